// The base page with several patients: what is shown and what a tap enters belong to the patient who
// was meant, whatever comes in meanwhile. All are the base's own, so that nothing waits for the air.
import fs from "node:fs";
import { at, check, data, device, finish, launch, out, pair, site, start, stop, until } from "./kit.mjs";

const browser = await launch();
// Base goes by the camp's table of drugs, so that something can be refused.
const { DIR } = process.env;
const [plan] = /\[treatment\]\n.*\n/.exec(fs.readFileSync(`${DIR}/camp.conf`, "utf8"));
fs.appendFileSync(`${DIR}/base.conf`, plan);
await stop("base");
await start("base");
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
await base.goto(`${site("base")}/base#%E0%A4%A`);
await base.reload();
await shown("%E0%A4%A is not known here");
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

// --- what stays where it is takes every tap, whatever comes in around it ---
await base.goto(`${site("base")}/base#2-2/voice/observe`);
await base.waitForSelector("#one .form");
await base.evaluate(() => {
  window.taken = 0;
  document.querySelector("#one .form .bar .act").addEventListener("click", (event) => {
    event.preventDefault();
    window.taken += 1;
  });
});
say("note", "2-1", "something comes in");
for (let i = 0; i < 20; i += 1) {
  await base.locator("#one .form .bar .act").click();
  await base.waitForTimeout(50);
}
check(await base.evaluate(() => window.taken) === 20, "Record stays where it is and takes every tap");
await base.goto(`${site("base")}/base#2-2`);
await shown("2-2 Due, HACE");

// --- what a person types and presses outlives what comes in ---
await base.evaluate(() => {
  station.enter("give", ["2-2", "dexamethasone", "8mg", "im", "checked", "Jory"]);
  station.enter("give", ["2-2", "dexamethasone", "8mg", "im", "checked", "Jory"]);
});
const second = base.locator("#list .refused input");
await second.waitFor();
await second.fill("Sab");
let notes = 0;
async function comesIn() {
  notes += 1;
  say("report", "2-1", "same", "spo2", String(88 + notes), "air", "alert");
  await base.waitForSelector(`#list .card:has-text('Uno') >> text=SpO2 ${88 + notes} %`);
}
await comesIn();
check(await second.inputValue() === "Sab", "a name half typed in the list stays");
await base.keyboard.type("e");
check(await second.inputValue() === "Sabe", "and so does the focus");
await base.waitForTimeout(PAUSE_MS);
const silence = base.locator("#bell .alarm:has-text('Due') button:has-text('Silence')").first();
const { x, y } = await silence.boundingBox();
await base.mouse.move(x + 10, y + 10);
await base.mouse.down();
await comesIn();
await base.mouse.up();
await until(() => data("base", "log").records.some((r) => /snoozed/.test(r.summary)), 5,
  "a press that was under way while something came in counts");
check(data("base", "view", "2-2").episode.alarms.filter((a) => a.snoozed).length === 1, "and once");
await base.waitForTimeout(PAUSE_MS);
await base.click("#list .refused button:text-is('Drop it')");
await base.waitForTimeout(PAUSE_MS);
await base.click("#list .waits button:text-is('Seen')"); // what the station said of the first dose

// --- who this device is, is asked until it is known ---
let asked = 0;
await base.route(/\/me$/, (route) => {
  asked += 1;
  return asked === 1 ? route.abort() : route.continue();
});
await base.reload();
await base.waitForSelector("#list >> text=New patient");
check(asked === 2, `asked ${asked} times`);
await base.unroute(/\/me$/);

// --- an answer that comes late replaces nothing that was opened meanwhile ---
async function held(path, during) {
  let release;
  const free = new Promise((resolve) => { release = resolve; });
  await base.route(path, async (route) => {
    await free;
    await route.continue();
  });
  await during(release);
  await base.unroute(path);
}
await held(/\/log/, async (release) => {
  await base.click("nav >> text=Log");
  await base.waitForSelector("#one >> text=asking the station");
  await base.goto(`${site("base")}/base#2-1/voice/note`);
  await base.waitForSelector("#one .form");
  await base.fill("#f-Who-called-", "Ines Okafor");
  release();
  await base.waitForTimeout(500);
  check(/Note, by voice: 2-1 Uno/.test(await text(base, "#one h2")), "a late log replaces no form");
  check(await base.inputValue("#f-Who-called-") === "Ines Okafor", "and what was typed stays");
});
await held(/\/view\?episode=2-1/, async (release) => {
  await base.goto(`${site("base")}/base#2-1`);
  await base.waitForSelector("#one h2:has-text('2-1 Uno')");
  await base.goto(`${site("base")}/base#2-2`);
  release();
  await shown("2-2 Due, HACE");
  await base.waitForTimeout(500);
  check(/2-2 Due/.test(await title()), "a late patient replaces no other one");
});

// --- the log: over all stations by time, and what is known of a patient ---
await base.click("nav >> text=Log");
await base.waitForSelector("#one table");
const rows = async () => base.$$eval("#one tbody tr", (all) => all.map((tr) =>
  [...tr.children].map((cell) => cell.textContent)));
const listed = await rows();
check(listed.some(([, , name, , what]) => name === "2-2" && what === "allergies penicillin: rash"),
  "the log says which allergies");
check(!listed.some(([, , , kind]) => kind === "station card"), "no bookkeeping unless asked for");
const everything = data("base", "log").records;
await base.click("#one >> text=Receipts and station cards too");
await until(async () => (await rows()).length === everything.length, 5, "all of the log");
const times = new Map(everything.map((r) => [r.record, r.time_s]));
const order = (await rows()).map(([record]) => times.get(record));
check(order.every((time, i) => i === 0 || time <= order[i - 1]), "the newest is first, whoever wrote it");
await base.screenshot({ path: `${out}/desk-log.png` });

// --- Seen stands only where something was asked and nobody has answered ---
const answers = () => base.$$eval("#one [aria-label='Answer by name'] > *", (all) =>
  all.map((button) => button.textContent).join());
await base.goto(`${site("base")}/base#2-2`);
await shown("2-2 Due, HACE");
check(await answers() === "Advice", `nothing was asked: ${await answers()}`);
await base.goto(`${site("base")}/base#2-1`);
await shown("2-1 Uno, AMS");
check(await answers() === "Passed on,Accepted,Expected,Refused,Plan,Advice", `seen already: ${await answers()}`);

// --- each fact that the pilot asks for has its age; an alarm stands once ---
say("evacuate", "2-1", "revise", "wind", "15km/h", "from", "270", "visibility", "3km");
await shown("15 km/h from 270");
check(/15 km\/h from 270\u00b0 true (\d min old|just now)/.test(await text(base, "#box-evacuation")), "the wind has an age");
const repeated = await base.$$eval(".alarm", (all) => all.map((e) => e.dataset.keep));
check(new Set(repeated).size === repeated.length, `an alarm stands once: ${repeated.join()}`);

// --- five patients are in sight on a laptop ---
for (const name of ["Tre", "Quattro", "Cinque"]) {
  say("open", "ams", "patient", name, "allergies", "none");
  say("report", `2-${["Tre", "Quattro", "Cinque"].indexOf(name) + 3}`, "same", "spo2", "86", "air", "pulse", "92", "alert");
}
await base.waitForSelector("#list .card >> nth=4");
await base.waitForTimeout(500);
const bottom = await base.$$eval("#list .card", (all) => Math.max(...all.map((e) => e.getBoundingClientRect().bottom)));
check(bottom <= 768, `five cards with two alarms end at ${bottom} px of 768`);
await base.screenshot({ path: `${out}/desk-five.png` });
await base.screenshot({ path: `${out}/desk-five-full.png`, fullPage: true });

// --- a hold at pressure: the session's time runs on, as the station counts ---
say("descent", "2-2", "no", "dark");
say("chamber", "2-2", "close");
say("chamber", "2-2", "at", "2psi");
await base.waitForTimeout(1500);
say("chamber", "2-2", "hold", "ears");
await base.goto(`${site("base")}/base#2-2`);
await base.waitForSelector("#box-now >> text=hold");
check(/of this session left/.test(await text(base, "#box-now")), "the time left is told in a hold");

// --- a camp of which only records are here is on the map ---
await base.route(/\/view$/, async (route) => {
  const reply = await route.fetch();
  const body = await reply.json();
  body.data.episodes[0].station = 9;
  await route.fulfill({ response: reply, json: body });
});
await base.reload();
await base.click("nav >> text=Links");
await base.waitForSelector("#one svg >> text=known only by its records");
await base.waitForSelector("#one table >> text=known only by its records");
check(/the patient's camp, 9, was last heard/.test(await text(base, "#one")), "when it was last heard");
await base.screenshot({ path: `${out}/desk-links.png`, fullPage: true });
await base.unroute(/\/view$/);

// --- the handover by what it is for; on a narrow screen the form that fits it ---
const phone = await device(browser, "390x844");
await pair(phone, "base", "reader");
await phone.goto(`${site("base")}/base#2-2/handover`);
await phone.waitForSelector("#one a[aria-current]:has-text('32 columns')");
await phone.waitForSelector("#one pre:has-text('Due')");
await phone.screenshot({ path: `${out}/desk-phone-handover.png`, fullPage: true });
await phone.goto(`${site("base")}/base#log`);
await phone.waitForSelector("#one td:has-text('penicillin')");
const what = await phone.locator("#one td:has-text('penicillin')").boundingBox();
check(what.x >= 0 && what.x + what.width <= 390 && what.width > 250, "what happened has the width of a phone");
await phone.screenshot({ path: `${out}/desk-phone-log.png` });

await browser.close();
finish();
