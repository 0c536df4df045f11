// The base page with several patients: what is shown and what a tap enters belong to the patient who
// was meant, whatever comes in meanwhile. All are the base's own, so that nothing waits for the air.
import { at, check, data, device, finish, launch, out, pair, site, until } from "./kit.mjs";

const browser = await launch();
const say = (...words) => at("base", "--by", "Ines Okafor", ...words);
const text = async (page, selector) => (await page.textContent(selector)).replace(/\s+/g, " ");
const PAUSE_MS = 450; // a tap sooner after something moved enters nothing

say("open", "ams", "patient", "Uno", "allergies", "none");
say("report", "2-1", "same", "spo2", "88", "air", "alert");
const base = await device(browser, "1366x768");
await pair(base, "base", "base");
await base.evaluate(() => localStorage.setItem("ridgepost-by", "Pelle Aandal"));
const title = () => text(base, "#one h2");
const hash = () => base.evaluate(() => location.hash);
const shown = (what) => base.waitForSelector(`#one >> text=${what}`);
await shown("2-1 Uno");
check(await hash() === "#2-1", `the patient shown stands in the address: ${await hash()}`);

// --- another one needs a person more: the list changes, what is shown does not ---
say("open", "hace", "patient", "Due", "allergies", "penicillin: rash");
say("report", "2-2", "critical", "spo2", "50", "air", "unresponsive");
await base.waitForSelector("#list .card:has-text('Due') + .card:has-text('Uno')");
await base.waitForTimeout(600);
check(/Uno/.test(await title()), `the patient shown stays: ${await title()}`);
await base.click("nav >> text=Links");
await base.click("nav >> text=Patients");
await shown("2-1 Uno");
check(/Uno/.test(await title()) && await hash() === "#2-1", "and is there again after another part");

// --- an unknown name is no other patient ---
for (const what of ["", "/end/close", "/log", "/handover", "/voice/observe"]) {
  await base.goto(`${site("base")}/base#9-9${what}`);
  await base.reload();
  await shown("9-9 is not known here");
  check(await base.locator("#one form").count() === 0, `nothing can be entered for 9-9${what}`);
}
await base.click("#one >> text=2-2 Due");
await shown("2-2 Due, HACE");

// --- a row that comes in above takes no tap that was meant for the one below ---
const acknowledged = () => data("base", "log").records.filter((r) => r.kind === "alarm answered").length;
const answered = () => data("base", "log").records.filter((r) => r.kind === "answer").length;
const row = "#bell .alarm:has-text('Due') button:text-is('Acknowledge')";
await base.waitForSelector(row);
const spot = await base.locator(row).first().boundingBox();
await base.evaluate(({ x, y }) => {
  const under = () => document.elementFromPoint(x, y)?.closest("button");
  const was = under();
  window.tapped = new Promise((resolve) => {
    const watch = setInterval(() => {
      const now = under();
      if (!now || now.dataset.keep === was.dataset.keep) return;
      clearInterval(watch);
      now.dispatchEvent(new MouseEvent("click", { detail: 1, bubbles: true, cancelable: true }));
      resolve(now.textContent);
    }, 10);
  });
}, { x: spot.x + spot.width / 2, y: spot.y + spot.height / 2 });
say("evacuate", "2-1", "e1", "stretcher");
const other = await base.evaluate(() => window.tapped);
await base.waitForTimeout(500);
check(acknowledged() === 0 && answered() === 0, `"${other}" had just moved there: nothing was entered`);
check(/nothing was entered/.test(await text(base, "#said")), "and the page says so");
await base.screenshot({ path: `${out}/desk-moved.png` });

// --- the button enters for the patient whose row it stands in ---
await base.waitForTimeout(PAUSE_MS);
await base.click("#bell .alarm:has-text('Uno') button:text-is('Seen')");
await until(() => data("base", "view", "2-1").episode.evacuation === "seen by base", 8,
  "the request of the row is seen");
check(data("base", "view", "2-2").episode.evacuation === "not requested", "and no other");
check(/2-2 Due/.test(await title()), "the patient shown is still the one that was chosen");

await browser.close();
finish();
