// The demo story, clicked through on both pages at one size: nothing is typed on a terminal but the
// pairing codes.
import { execFileSync } from "node:child_process";
import fs from "node:fs";
import { act as actOn, at, check, data, device, finish, launch, look, out, pair, report, site, step, taps, until } from "./kit.mjs";

const size = process.argv[2];
const BEDSIDE_PX = 56; // 15 mm at 96 px to the inch is 56.7: the bedside is for gloves
const BASE_PX = 24; // WCAG 2.2 AA, target size (minimum)
const browser = await launch();
const camp = await device(browser, size);
const base = await device(browser, size);
const state = async (page, name) => {
  await look(page, `${size}-${name}`, { target_px: page === camp ? BEDSIDE_PX : BASE_PX });
  if (page === base) await page.waitForTimeout(PAUSE_MS); // what came in afterwards may have moved things
};
const press = (text) => taps.on(camp, `#panel button:text-is("${text}")`);
const tap = (selector) => taps.on(camp, selector);
const record = () => taps.on(camp, "#panel .bar .act");
const PAUSE_MS = 450; // a tap sooner after the last panel is taken for a double tap
const act = (text) => actOn(camp, text, (selector) => taps.on(camp, selector));
const onBoard = (text) => camp.waitForSelector(`#board:visible >> text=${text}`)
  .catch(async (late) => {
    await camp.screenshot({ path: `${out}/${size}-late.png`, fullPage: true });
    throw late;
  });
const records = (key) => data(key, "log").records.filter((r) => /^7-/.test(r.episode)).length;
const text = async (page, selector) => (await page.textContent(selector)).replace(/\s+/g, " ");

// --- pairing ---
await camp.goto(`${site("camp")}/`);
await state(camp, "pair");
await pair(camp, "camp", "bedside", "Ines Okafor");
await pair(base, "base", "base");
await onBoard("Open a patient");
await state(camp, "bedside-empty");
await base.waitForSelector("text=No patient is known");
await state(base, "base-empty");

// --- the medic ---
taps.begin();
await taps.on(camp, ".next");
await state(camp, "panel-open");
await press("HACE");
await press("Male");
await camp.fill("#f-Patient-a-name-only-if-chosen-else-a-letter-", "M. Tarn");
await camp.fill("#f-Or-which", "penicillin: rash");
await record();
taps.end("a new patient");
await onBoard("never observed");

taps.begin();
await act("Observe");
await press("Worse");
await press("Confused");
await step(tap, "SpO2 %", "less");
await record();
taps.end("a sent report with condition, level and SpO2", 6);
await onBoard("new confusion");
await state(camp, "bedside-known");

await act("Observe");
for (const [name, key] of [["SpO2 %", "less"], ["Pulse per minute", "more"],
  ["Breaths per minute", "more"]]) {
  await step(tap, name, key);
}
await state(camp, "panel-observe");
await camp.click("#panel summary:text-is('Drunk and passed')");
await step(tap, "Drunk, mL", "more");
await step(tap, "Urine, mL", "more");
await record();
check(/how many hours/.test(await text(camp, "#panel [role=alert]")), "urine needs its time");
await step(tap, "Over how many hours", "more");
await record();
await until(() => data("camp", "log").records.some((r) => r.kind === "fluids"), 8,
  "what was drunk and passed is recorded");

taps.begin();
await act("Oxygen");
await press("Nasal prongs");
await step(tap, "Flow, L/min", "more");
await press("A");
await step(tap, "Cylinder pressure, bar", "more", 4);
await press("4 L");
await state(camp, "panel-oxygen");
await record();
taps.end("oxygen started");

taps.begin();
await act("Drug given");
await press("dexamethasone");
await press("8");
await press("Into muscle (IM)");
await camp.fill("#f-Who-else-checked-drug-and-dose-", "Jory");
await state(camp, "panel-give");
await record();
taps.end("a drug given, with a second name");
await onBoard("checked by Jory");
await onBoard("NOT REVIEWED");
await state(camp, "bedside-remark");
await camp.click("#board button:text-is('Seen')");
await onBoard("Oxygen lasts until");

// Too early by the table: it stands only on the word of a second person, and once.
await act("Drug given");
await press("dexamethasone");
await press("8");
await press("Into muscle (IM)");
await press("Jory");
await record();
await camp.waitForSelector("#panel .refused");
await state(camp, "panel-refused");
check(/dexamethasone 8 mg, into muscle.*interval over/.test(await text(camp, "#panel .refused")),
  "the refusal says what was tried and why");
await camp.waitForTimeout(PAUSE_MS);
await press("Jory stands for it: record it");
await until(() => data("camp", "view", "7-1").episode.doses.length === 2, 8,
  "a dose against the table is recorded on the word of two");
await onBoard("The station says");
await camp.click("#board button:text-is('Seen')");

// What was wrong is marked, and stays.
await act("Correct");
await camp.click("#panel .wholes button >> nth=0");
await press("Entered twice");
await state(camp, "panel-correct");
await record();
await until(() => data("camp", "view", "7-1").episode.doses.some((d) => d.voided), 8,
  "the second dose is corrected, and kept");

taps.begin();
await act("Chamber");
await record();
check(/why not down/i.test(await text(camp, "#panel [role=alert]")),
  "a session does not begin without an answer to why not down");
await state(camp, "panel-chamber");
await press("Dark");
await record();
taps.end("the chamber closed, why not down answered");
await onBoard("Chamber, session 1: closed");
await act("Chamber");
await record(); // pressurising is offered next
await onBoard("session 1: pressurising");
await act("Chamber");
await step(tap, "Gauge pressure, hPa", "more");
await record();
await onBoard("session 1: at pressure");
await onBoard("of this session left");
await state(camp, "bedside-chamber");
await act("Pump rhythm");
await camp.fill("#f-Another-pumper", "Sabe");
await camp.click("#panel button:text-is('This one pumps now')");
await camp.click("#panel .bar .act");
await camp.waitForSelector(".pumplight.on");
await until(() => (data("camp", "view", "7-1").episode.course.pumping || {}).strokes >= 1, 20,
  "the station is told the strokes");
check(data("camp", "view", "7-1").episode.course.pumping.pumper === "Sabe",
  "and who pumps");
await state(camp, "pump");
await camp.click("#panel .bar .act");
await camp.goBack();
await onBoard("No change");

taps.begin();
await act("No change");
await camp.waitForSelector("text=tap to stop");
taps.end("no change", 1);
await until(() => data("camp", "view", "7-1").episode.condition === "no change", 8,
  "no change is recorded five seconds later");

taps.begin();
await camp.waitForTimeout(PAUSE_MS);
await taps.on(camp, "#board .ask");
await state(camp, "panel-evacuate");
await press("E1 now: life in danger");
await press("Stretcher");
await press("W");
await step(tap, "Wind, km/h", "more");
await press("Snow");
await camp.fill("#f-Its-position-if-another", "28.10460,86.75310");
await record();
taps.end("evacuation asked, with wind, surface and place");
await onBoard("requested");
await state(camp, "bedside-asked");

// A revision asks for the gaps only; what was told stays.
await camp.waitForTimeout(PAUSE_MS);
await camp.click("#board .ask");
check(await camp.locator("#panel > fieldset:has-text('Landing place')").count() === 0,
  "what was told is not asked again");
await press("1 to 5 km");
await state(camp, "panel-revise");
await record();
await until(() => data("camp", "view", "7-1").episode.asked.visibility_m === 3000, 8,
  "the request is revised");
check(data("camp", "view", "7-1").episode.asked.surface === "snow", "the rest stays as it was");

// --- base ---
await base.waitForSelector("#list .card.need-answer", { timeout: 60000 });
await base.waitForSelector("#bell .alarm.sound-fast");
await state(base, "base-asked");
await base.click("#list .card.need-answer");
await base.waitForSelector("#one >> text=NOBODY HAS ANSWERED");
await base.waitForTimeout(PAUSE_MS);
taps.begin();
await taps.on(base, "#one button:text-is('Seen')");
await base.waitForSelector("dialog[open]");
await state(base, "base-name");
await base.fill("dialog input", "Pelle Aandal");
await taps.on(base, "dialog .act");
taps.end("seen, with the name asked the first time");
await base.waitForSelector("#one >> text=seen by base");
const answer = async (kind, fill) => {
  taps.begin();
  await base.waitForTimeout(PAUSE_MS);
  await taps.on(base, `#one a:text-is('${kind}')`);
  await base.waitForSelector("#one .form");
  await fill();
  await state(base, `base-${kind.toLowerCase().replace(" ", "-")}`);
  await taps.on(base, "#one .form .act");
  await base.waitForSelector("#one .boxes");
  taps.end(`answer: ${kind}`);
};
await answer("Accepted", () => base.fill("#f-From-whom", "Valley Air 3"));
await base.waitForSelector("#one >> text=Answers given >> xpath=.. >> text=accepted");
await answer("Expected", async () => {
  await taps.on(base, "button:text-is('in 5 h')");
  check(await base.inputValue("#f-From-whom") === "Valley Air 3", "the name is offered again");
});
await answer("Plan", () => base.fill("#f-The-plan", "be at the site 15 min before"));
await base.waitForSelector("#one >> text=NOT READ BACK");
await state(base, "base-answered");

// --- and back up ---
await until(() => data("camp", "view", "7-1").episode.answers.length === 4, 60,
  "four answers reach the high camp");
await camp.waitForSelector("#board >> text=Base says");
await state(camp, "bedside-answer");
for (let i = 0; i < 3; i += 1) {
  taps.begin();
  await taps.on(camp, ".next");
  await camp.waitForSelector("#panel >> text=Read this aloud");
  if (i === 0) await state(camp, "panel-readback");
  await record();
  taps.end("an answer read back", 2);
  await until(() => data("camp", "view", "7-1").episode.answers.filter((a) => a.read_back)
    .length === i + 1, 8, `answer ${i + 1} is read back`);
  await camp.waitForTimeout(PAUSE_MS);
}
await until(() => data("base", "view", "7-1").episode.answers.filter((a) => a.read_back)
  .length === 3, 60, "base learns that they were read back");
await base.waitForFunction(() => !document.querySelector("#one").textContent
  .includes("NOT READ BACK"));

await act("Reassess");
await press("Better");
await press("Watch");
await state(camp, "panel-reassess");
await record();
await until(() => data("camp", "view", "7-1").episode.reassessments.length === 1, 8,
  "the reassessment is recorded");

for (const step of ["deflating", "out"]) {
  await act("Chamber");
  await record();
  await until(() => data("camp", "view", "7-1").episode.course.phase.startsWith(step), 8,
    `the chamber is ${step}`);
  await camp.waitForTimeout(PAUSE_MS);
}
await onBoard("Out of the chamber");
await act("Going down?");
await state(camp, "panel-descent");
await press("Weather");
await record();
await until(() => data("camp", "view", "7-1").episode.descent.length === 2, 8,
  "why not down is recorded");
await act("Handover");
await camp.waitForSelector("#panel pre:has-text('M. Tarn')");
await press("To be said in 45 s");
await camp.waitForSelector("#panel pre:has-text('Spoken'), #panel pre:has-text('spoken')");
await state(camp, "panel-sheet");
check(/DRAFT/.test(await text(camp, "#panel pre")) || /draft/.test(await text(camp, "#panel pre")),
  "what is looked at is called a draft");

// Another phone's camera reads the codes off the screen (zbarimg reads ISO/IEC 18004).
await press("Codes to scan");
await camp.waitForSelector("#panel canvas");
await state(camp, "panel-codes");
const shot = `${out}/${size}-codes.png`;
const picture = await camp.$eval("#panel canvas", (canvas) => canvas.toDataURL("image/png"));
fs.writeFileSync(shot, Buffer.from(picture.split(",")[1], "base64"));
const scanned = execFileSync("zbarimg", ["--quiet", "--raw", shot], { encoding: "utf8" });
const [, given] = /sheet (\d+ \w+)/.exec(scanned) || [];
check((await text(camp, "#panel [role=status]")).startsWith(`Sheet ${given.replace(" ", ", check ")}`),
  `the codes name the sheet and its check: ${given}`);
for (const fact of ["M. Tarn", "penicillin"]) check(scanned.includes(fact), `the codes hold ${fact}`);
const [page] = await Promise.all([camp.waitForEvent("download"), press("Page (PDF)")]);
check(fs.readFileSync(await page.path(), "latin1").startsWith("%PDF-"), "a page is saved");
await press("Number the sheet");
await camp.waitForSelector("#panel pre:has-text('HANDOVER SHEET')");
const second = (await text(camp, "#panel [role=status]")).match(/Sheet 3, check (\w+)/);
check(second !== null, "each that is given out has a number of its own");
await camp.click("#panel .bar .act");
await camp.waitForSelector("#panel h1:has-text('Taken over')");
check(await camp.inputValue("[id^=f-Sheet-handed-over]") === `3 ${second[1]}`,
  "the sheet given out last is offered as the one that the team has");
await camp.goBack();
await onBoard("No change");
await camp.click("#light");
await state(camp, "bedside-night");
await camp.click("#light");
await state(camp, "bedside-contrast");
await camp.click("#light");

// --- base: a report by voice, alarms, links, log, handover ---
await base.waitForTimeout(PAUSE_MS);
const before = data("base", "view", "7-1").episode.observations.length;
taps.begin();
await taps.on(base, "#one a:text-is('Report taken by voice')");
await base.waitForSelector("#one h2:text-is('Report taken by voice')");
await state(base, "base-voice");
await taps.on(base, "#one a:text-is('Observations')");
await base.fill("#f-Who-called-", "Ines Okafor");
await taps.on(base, "#one button:text-is('10 min')");
await taps.on(base, "#one button:text-is('Worse')");
check(await base.getAttribute("#one button:text-is('On oxygen')", "aria-pressed") === "true",
  "the mode is the one that holds now");
await step((selector) => taps.on(base, selector), "SpO2 %", "less");
await state(base, "base-voice-observe");
await taps.on(base, "#one .form .act");
taps.end("a report taken by voice");
await until(() => data("base", "view", "7-1").episode.observations.length === before + 1, 8,
  "the report by voice is recorded");
const told = data("base", "view", "7-1").episode.observations.find((o) => o.via === "voice");
check(told && told.by === "Ines Okafor", "it stands under the caller's name, as told by voice");
const view = data("base", "view");
check(told && Math.abs(view.now_s - told.taken_s - 600) < 90, "it happened ten minutes ago");

await base.waitForSelector("#one .boxes");
await act("Observe");
await press("Critical");
await record();
await base.waitForSelector("#bell >> text=critical", { timeout: 60000 });
await state(base, "base-alarm");
taps.begin();
await taps.on(base, "#bell .alarm:has-text('critical') button:text-is('Acknowledge')");
taps.end("an alarm acknowledged", 1);
await until(() => data("base", "view", "7-1").episode.alarms
  .some((a) => a.rule === "critical" && a.acknowledged && a.by === "Pelle Aandal"), 8,
"the alarm is acknowledged by name");
await base.waitForSelector("#one >> text=acknowledged by Pelle Aandal");

await base.click("nav >> text=Links");
await base.waitForSelector("#one svg >> text=Moraine Cache");
check(/lost/.test(await text(base, "#one table")), "the table of links tells the loss");
await state(base, "base-links");
await base.click("nav >> text=Log");
await base.waitForSelector("#one table");
await state(base, "base-log");
await base.goBack();
await base.waitForSelector("#one svg >> text=Moraine Cache");
await base.goto(`${site("base")}/base#7-1/handover`);
await base.waitForSelector("#one pre.sheet:has-text('M. Tarn')");
const sheet = await text(base, "#one pre");
for (const fact of ["penicillin: rash", "dexamethasone 8 mg", "Jory", "Valley Air 3", "E1",
  "15 min before", "Pelle Aandal", "never a substitute for descent"]) {
  check(sheet.includes(fact), `the sheet holds ${fact}`);
}
await state(base, "base-handover");
const forms = await base.$$eval("#one [aria-label='To be read or printed'] a, " +
  "#one [aria-label='For programs'] a", (links) => links.map((a) => a.hash.split("/")[2]));
check(forms.length === data("base", "view").forms.length - 1, `${forms.length} forms are offered`);
for (const form of forms) {
  await base.goto(`${site("base")}/base#7-1/handover/${form}`);
  await base.waitForSelector(`#one a[aria-current][href*='/${form}/']`);
  await base.waitForSelector("#one p:has-text('As known now')");
  const made = await base.textContent("#one pre");
  // Places, observations and what is said on an open channel carry no name.
  check(/Tarn/i.test(made) || ["csv", "geojson", "jsonl", "cap", "spoken", "ethane", "pilot"].includes(form),
    `${form} names the patient`);
  check(made.length > 100 && !/cannot be made/.test(made), `${form}: ${made.length} characters`);
  if (form === "geojson") JSON.parse(made);
  if (form === "csv") {
    const [file] = await Promise.all([base.waitForEvent("download"),
      base.click("#one button:text-is('Save as a file')")]);
    check(file.suggestedFilename() === "7-1-csv.csv", `saved as ${file.suggestedFilename()}`);
    check(fs.readFileSync(await file.path(), "utf8") === await base.textContent("#one pre"),
      "the file holds what is shown");
  }
}
// Looking takes no number; what is saved has one. Drawn sheets are files (PDF: ISO 32000-1 section
// 7.5.2; PNG: W3C PNG section 5.2).
const last = () => data("base", "handover", "7-1", "--form", "csv").sheet;
await base.goto(`${site("base")}/base#7-1/handover/text`);
await base.waitForSelector("#one p:has-text('To be looked at')");
const numbered = last();
check(numbered === 0, `${numbered} sheets were numbered by looking at every form`);
for (const [button, begins] of [["Page (PDF)", "%PDF-"], ["Codes for a phone (PNG)", "\x89PNG\r\n"]]) {
  const [file] = await Promise.all([base.waitForEvent("download"),
    base.click(`#one button:text-is('${button}')`)]);
  check(fs.readFileSync(await file.path(), "latin1").startsWith(begins),
    `${button} is saved as ${file.suggestedFilename()}`);
}
check(last() === numbered + 2, `two saved pages have taken ${last() - numbered} numbers`);
await base.goto(`${site("base")}/base#7-1/handover/text/fr`);
await base.waitForSelector("#one a[aria-current]:text-is('fran\u00e7ais'), " +
  "#one a[aria-current]:text-is('Fran\u00e7ais')");
await base.emulateMedia({ media: "print" });
check(await base.isVisible("#one pre.sheet") && !await base.isVisible("#list") &&
  !await base.isVisible("header"), "printed is the sheet alone");
await base.emulateMedia({ media: "screen" });
await base.click("nav >> text=Patients");
await base.waitForSelector("#one .boxes");
await base.click("summary");
check(await base.isVisible("#one details table"), "the trend has its table");
await state(base, "base-late");
for (const light of ["night", "contrast"]) {
  await base.click("#light");
  await state(base, `base-${light}`);
}
await base.click("#light");
taps.begin();
await taps.on(base, "#one a:text-is('Taken over')");
await base.fill("#f-Which-team-takes-the-patient-", "Valley Air 3");
await base.fill("#f-Who-of-it-takes-over-", "Dr Lindqvist");
await state(base, "base-taken");
await taps.on(base, "#one .form .act");
taps.end("handed over");
await until(() => data("base", "view", "7-1").episode.evacuation === "handed over", 8,
  "the handover is recorded");

await base.waitForSelector("#one >> text=taken over by Dr Lindqvist");

// --- a reader sees all of it and can enter nothing ---
const reader = await device(browser, size);
await pair(reader, "base", "reader");
await reader.waitForSelector("#one .boxes");
await state(reader, "base-reader");
check(await reader.locator("text=Acknowledge").count() === 0, "a reader acknowledges nothing");
check(await reader.locator("#one button, #one a.button:has-text('voice')").count() === 0,
  "a reader has no button that enters");
await reader.goto(`${site("base")}/bedside`);
check(reader.url().endsWith("/base"), "a reader is led from the bedside to base");

await until(() => records("camp") === records("base"), 60, "both logs hold the same records");
check(records("camp") >= 20, `the story made ${records("camp")} records`);
check(/Pelle Aandal/.test(at("camp", "delivery")), "the request is seen by name at the high camp");
report(size);
await browser.close();
finish();
