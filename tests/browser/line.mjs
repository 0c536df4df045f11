// The line to the station and what waits for it: an answer that never comes, a refusal that is not
// for good, a session that has ended, a device that cannot keep anything.
import { at, check, data, device, finish, launch, pair, ports, start, step, stop, until }
  from "./kit.mjs";

const browser = await launch();
at("camp", "--by", "Ines", "open", "hace", "patient", "Alpha", "allergies", "none");
at("camp", "--by", "Ines", "report", "7-1", "worse", "spo2", "71", "air");
const camp = await device(browser, "390x844");
await pair(camp, "camp", "bedside", "Ines");
await camp.waitForSelector("#board:visible >> text=71 %");
const base = await device(browser, "1366x768");
await pair(base, "base", "base", "Pelle");
await base.waitForSelector("#one .boxes", { timeout: 60000 });

// --- no answer at all: the connection stands and nothing comes ---
// One is left without an answer for good: what is asked next does not wait for it.
const hang = (page, path, times) => page.route(path, async (route) => {
  times -= 1;
  if (times < 0) await route.continue().catch(() => {});
}); // a route that is neither continued nor ended hangs
await hang(base, /\/view/, 1);
await hang(camp, /\/entry/, 1);
const start_ms = Date.now();
await camp.evaluate(() => station.enter("note", ["7-1", "behind a dead request"]));
at("base", "--by", "Pelle", "report", "7-1", "worse", "spo2", "66", "air");
const notes = (key) => data(key, "view", "7-1").episode.notes.map((n) => n.text);
await until(() => notes("camp").includes("behind a dead request"), 12,
  "an entry goes though the request before it never ended");
await until(async () => /66/.test(await base.textContent("#one")), 20, "base shows what is worse");
console.log(`after ${((Date.now() - start_ms) / 1000).toFixed(0)} s both pages went on`);
for (const page of [base, camp]) await page.unroute(/\/view/);
await camp.unroute(/\/entry/);

// None is answered any more, while the live events go on: what is shown is old, and said to be.
const shown = async (page) => page.evaluate(() => station.viewed_s());
for (const page of [base, camp]) await hang(page, /\/view/, Infinity);
const hung_s = await Promise.all([base, camp].map(shown));
const lost = (page, seconds) => until(() => page.isVisible("#lost"), seconds,
  "an old view is a lost line");
if (!process.env.QUICK) await Promise.all([base, camp].map((page) => lost(page, 45)));
for (const [i, page] of [base, camp].entries()) {
  const said = await page.textContent("#lost");
  const time = await page.evaluate((s) => clock.time(s), hung_s[i]);
  const later = await page.evaluate((s) => clock.time(s), hung_s[i] + 15);
  check(said.includes(`since ${time}`) || said.includes(`since ${later}`),
    `since the last word, ${time}, and not since it was noticed: ${said}`);
  check(/do not reload/i.test(said), "the page says that it must not be loaded again");
  await page.unroute(/\/view/);
}
await Promise.all([base, camp].map((page) => until(() => page.isHidden("#lost"), 30,
  "the line is back")));

// --- a refusal that may pass: the entry waits, says why, and goes ---
const PAUSE_MS = 450; // a tap sooner after the last panel is taken for a double tap
const full = (route) => route.fulfill({ status: 200, contentType: "application/json",
  body: JSON.stringify({ v: 1, ok: false, error: { code: "RP_E_NO_SPACE", field: "database",
    text: "the disk is full (example: df -h)" } }) });
const act = async (text) => {
  await camp.waitForTimeout(PAUSE_MS);
  await camp.evaluate(() => document.querySelectorAll("#board details").forEach((d) => { d.open = true; }));
  await camp.click(`#board .acts button:text-is('${text}')`);
};
const press = (text) => camp.click(`#panel button:text-is("${text}")`);
const record = () => camp.click("#panel .bar .act");
await camp.route("**/entry", full);
await camp.waitForTimeout(PAUSE_MS);
await camp.click("#board .ask");
await press("E1 now: life in danger");
await record();
const waits = camp.locator("#board .waits");
await waits.waitFor();
const why = await waits.textContent();
check(/1 entry waits/.test(why) && /the disk is full/.test(why) && !/example|NOT RECORDED/.test(why),
  `what is refused for now waits and says why: ${why}`);
check(/Evacuation, Alpha: E1/.test(why), "it is named as the panel is, with the patient");
await camp.screenshot({ path: `${process.env.OUT}/line-trouble.png`, fullPage: true });
await camp.unroute("**/entry");
await camp.waitForTimeout(PAUSE_MS);
await camp.click("#board button:text-is('Try again')");
await until(() => data("camp", "view", "7-1").episode.request, 8, "it goes once there is room");
await waits.waitFor({ state: "detached" });

check(await camp.evaluate(() => plain.tried({ command: "report", args: ["7-1", "pain-score", "4"] }))
  === "pain 4", "a pain score is listed in plain words");

// --- a real refusal stays in its panel, filled, in plain words ---
await act("Drug given");
await camp.fill("#f-Which-drug-, #f-Or-another-drug", "dexamethasone");
await press("8");
await press("Into muscle (IM)");
await record();
await camp.waitForSelector("#board .acts:visible");
await act("Drug given");
await press("dexamethasone");
await press("8");
await record();
check(await camp.textContent("#panel [role=alert]") === "How was it given?", "the panel asks for the route");
await press("By mouth");
await record();
const alert = camp.locator("#panel [role=alert]:has-text('NOT RECORDED')");
await alert.waitFor();
let said = await alert.textContent();
check(/by mouth/.test(said) && !/example/.test(said), `it is refused: ${said}`);
await camp.waitForTimeout(PAUSE_MS);
await press("Into muscle (IM)");
await record(); // what was filled in is still there, and Record takes what was changed
await alert.locator("text=into muscle").waitFor();
said = await alert.textContent();
check(said.startsWith("NOT RECORDED: Drug given, Alpha: dexamethasone 8 mg, into muscle. "),
  `what was tried, in plain words: ${said}`);
check(!/recorded 7|note,|example|confirmed|--sure|8mg/.test(said), "nothing of the command line");
check(await camp.locator(".waits .refused").count() === 0, "it stands in one place only");
await camp.screenshot({ path: `${process.env.OUT}/line-refused.png`, fullPage: true });
await camp.waitForTimeout(PAUSE_MS);
await camp.click("#panel button:text-is('Drop it')");
await camp.waitForSelector("#board .acts:visible");
check(await waits.locator(".refused").count() === 0, "it is dropped");
const doses = () => data("camp", "view", "7-1").episode.doses.length;
check(doses() === 1, `${doses()} dose is recorded`);

// A name that is known stands for it by one button, and the lines behind it go on.
at("camp", "--by", "Jory", "note", "7-1", "here too");
at("camp", "--by", "Jory", "report", "7-1", "same");
await camp.waitForTimeout(1000);
await act("Drug given");
await press("dexamethasone");
await press("8");
await press("Into muscle (IM)");
await record();
await alert.waitFor();
await camp.waitForTimeout(PAUSE_MS);
await press("Jory stands for it: record it");
await camp.waitForSelector("#board .acts:visible");
await until(() => doses() === 2, 8, "the dose is recorded on the word of two");

// What the station says of it stays until somebody has seen it, whatever becomes of the page.
await camp.waitForSelector("#board >> text=The station says");
await camp.reload();
await camp.waitForSelector("#board >> text=AGAINST THE TABLE");
await camp.click("#board button:text-is('Seen')");
await camp.waitForSelector("#board >> text=AGAINST THE TABLE", { state: "detached" });

// An unlikely value: on the enterer's own word; what was entered with it goes too.
await act("Observe");
// Other words than the panel's, once: what a stepper allows is not unlikely.
const change = (...more) => camp.evaluate((words) => {
  const enter = station.enter;
  station.enter = (command, args, options) => {
    station.enter = enter;
    return enter(command, [...args, ...words], options);
  };
}, more);
await change("temp", "30.1", "oral");
await press("Better");
await camp.click("#panel summary:text-is('Drunk and passed')");
await step((selector) => camp.click(selector), "Drunk, mL", "more");
await record();
await alert.waitFor();
said = await alert.textContent();
check(/is unlikely/.test(said) && !/--sure|again/.test(said), `an unlikely value: ${said}`);
const fluids = () => data("camp", "log").records.filter((r) => r.kind === "fluids").length;
check(fluids() === 0, "the second line waits for the first");
await camp.waitForTimeout(PAUSE_MS);
await press("It is right: record it");
await until(() => fluids() === 1, 8, "the second line follows");
await camp.waitForSelector("#board .acts:visible");

// --- the device's clock is set while an entry waits ---
await camp.route("**/entry", (route) => route.abort());
await camp.evaluate(() => {
  station.enter("note", ["7-1", "the clock was wrong"]);
  const now = Date.now;
  Date.now = () => now() + 3 * 3600 * 1000;
});
await camp.waitForTimeout(1500);
await camp.unroute("**/entry");
await until(() => notes("camp").includes("the clock was wrong"), 20, "the entry goes");
const late = data("camp", "view", "7-1").episode.notes.find((n) => /clock was wrong/.test(n.text));
check(late && late.recorded_s - late.happened_s < 120,
  `it happened ${late && late.recorded_s - late.happened_s} s before it was recorded`);
await camp.reload();
await camp.waitForSelector("#board .acts:visible");

// --- sound: said while it is off, and tried on demand ---
await camp.waitForSelector("#mute:has-text('An alarm rings and sound is off')"); // SpO2 66 % stands
check(await camp.evaluate(() => sound.ready()) === false, "and it is");
await camp.click("#mute");
await camp.waitForSelector("#mute:has-text('Sound is on')");
await camp.click("button:text-is('Test the sound')");
await camp.waitForSelector("footer >> text=Was it heard?");
await base.reload();
await base.waitForSelector("#mute:has-text('Sound is off')");
await base.click("h1");
await base.waitForSelector("#mute:has-text('Sound is on')");

// --- a device that keeps nothing says so, and sends ---
await camp.route("**/entry", (route) => route.abort());
await camp.evaluate(() => {
  Storage.prototype.setItem = () => { throw new DOMException("full", "QuotaExceededError"); };
});
await act("Note");
await camp.fill("#panel input", "not kept");
await record();
await camp.waitForSelector("#board .waits >> text=This device cannot keep entries");
await camp.unroute("**/entry");
await until(() => notes("camp").includes("not kept"), 8, "it is sent all the same");
await waits.waitFor({ state: "detached" });
await camp.reload();
await camp.waitForSelector("#board .acts:visible");

// --- leaving the page while an entry waits is asked about ---
await camp.route("**/entry", (route) => route.abort());
await act("Note");
await camp.fill("#panel input", "waits for a session");
await record();
await camp.waitForSelector("#board .waits >> text=1 entry waits");
const asked = new Promise((resolve) => { camp.once("dialog", (dialog) => {
  resolve(dialog.type());
  void dialog.dismiss();
}); });
await camp.evaluate(() => { setTimeout(() => location.reload(), 0); });
check(await asked === "beforeunload", "the page asks before it goes");

// --- the session has ended: what is being entered stays, what waits is sent after pairing ---
const { devices } = data("camp", "pair");
await act("Note");
await camp.fill("#panel input", "half typed");
for (const { number } of devices || []) at("camp", "pair", "end", String(number));
await camp.waitForSelector("#lost >> text=no longer paired", { timeout: 20000 });
check(await camp.inputValue("#panel input") === "half typed", "what is being entered stays");
await camp.unroute("**/entry");
await record();
await camp.waitForURL("**/pair", { timeout: 20000 });
await camp.waitForSelector("text=2 entries wait on this device");
const { code } = data("camp", "pair", "bedside");
await camp.fill("#code", code);
await camp.click("button.act");
await camp.waitForURL("**/bedside");
await until(() => ["waits for a session", "half typed"].every((text) => notes("camp").includes(text)), 10,
  "both are sent after pairing");

// --- the camp's own network: an address that browsers do not call secure ---
// Only "potentially trustworthy" ones are (W3C Secure Contexts, section 3.1): there are no locks and
// no wake lock here, and two pages of one device enter all the same, each entry once.
const plain = await launch("--host-resolver-rules=MAP 192.168.4.1 127.0.0.1");
const own = await device(plain, "390x844");
const address = `http://192.168.4.1:${ports.camp}`;
await pair(own, "camp", "bedside", "Sabe", address);
await own.waitForSelector("#board .acts:visible");
check(await own.evaluate(() => !isSecureContext && !navigator.locks && !navigator.wakeLock),
  "the address is not secure, and has neither locks nor a wake lock");
const two = await own.context().newPage();
two.on("pageerror", (error) => check(false, `a script failed: ${error.stack}`));
await two.goto(`${address}/bedside`);
await two.waitForSelector("#board .acts:visible");
await stop("camp");
for (const page of [own, two]) await page.waitForSelector("#lost:visible", { timeout: 20000 });
for (const [i, page] of [own, two, own, two].entries()) {
  await page.evaluate((n) => station.enter("note", ["7-1", `by plain address ${n}`]), i);
}
await two.waitForSelector("text=4 entries wait");
await start("camp");
const byPlain = () => notes("camp").filter((text) => /by plain address/.test(text));
await until(() => byPlain().length === 4, 20, "what two pages entered is recorded");
for (const page of [own, two]) {
  await page.waitForSelector(".waits", { state: "detached", timeout: 20000 });
}
check(new Set(byPlain()).size === 4 && byPlain().length === 4, `once each: ${byPlain().join(", ")}`);
await own.click("#mute");
await own.waitForSelector("#mute:has-text('Sound is on')");
await plain.close();
await browser.close();
finish();
