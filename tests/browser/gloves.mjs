// What gloves do: touches that bounce, a stray one, large text, and what is asked for at the control
// itself. The panels and the pump.
import { at, check, data, device, finish, launch, pair, site, until } from "./kit.mjs";

const browser = await launch();
at("camp", "--by", "Ines", "open", "hace", "patient", "A");
const camp = await device(browser, "320x568");
await pair(camp, "camp", "bedside", "Ines");
await camp.waitForSelector("#board .acts");
const panel = async (name) => {
  await camp.waitForFunction(() => station.waiting().length === 0); // else leaving is asked about
  await camp.waitForTimeout(200);
  await camp.goto(`${site("camp")}/bedside#${name}`);
  await camp.reload();
  await camp.waitForSelector("#panel h1:visible");
};
const button = (text) => camp.locator(`#panel button:text-is("${text}")`).first();
const pressed = (text) => button(text).getAttribute("aria-pressed");

// --- one touch that bounces is one touch: within 400 ms (ours) ---
await panel("observe");
await button("Worse").dblclick();
check(await pressed("Worse") === "true", "a double tap on a choice chooses it");
await camp.waitForTimeout(450);
await button("Worse").click();
check(await pressed("Worse") === "false", "a later tap takes it away");
const tried = camp.locator("#panel fieldset", { hasText: "Tried and not possible" });
await tried.locator("button:text-is('Pulse')").dblclick();
check(await tried.locator("button:text-is('Pulse')").getAttribute("aria-pressed") === "true",
  "a double tap on one of several chooses it");
await panel("give");
await button("8").dblclick();
check((await button("8").boundingBox()).height >= 83, "the keys are large");
check(await camp.textContent("#panel .keypad output") === "8 mg", "a double tap on a key is one digit");
await camp.waitForTimeout(450);
await button("8").click();
check(await camp.textContent("#panel .keypad output") === "88 mg", "a later one is another digit");

// --- a number counts from the second touch ---
await panel("observe");
const number = (name) => camp.locator(`#panel [role=group][aria-label="${name}"]`);
const read = async (name) => (await number(name).locator(".reading").textContent()).trim();
const less = number("SpO2 %").locator("[aria-label='SpO2 %: less']");
await less.dblclick();
check(/^start 75/.test(await read("SpO2 %")), `touched once, bounced: "${await read("SpO2 %")}"`);
await button("Worse").click();
await camp.click("#panel .bar .act");
await camp.waitForSelector("#panel [role=alert]:has-text('SpO2 %: tap the number to take it')");
check(data("camp", "view", "7-1").episode.observations.length === 0, "a number only touched is not sent");
await camp.waitForTimeout(450);
await number("SpO2 %").locator(".reading").click();
check(/^75 %/.test(await read("SpO2 %")), `a tap on it takes it: "${await read("SpO2 %")}"`);
const row = await Promise.all([".clear", ".reading", "[aria-label='SpO2 %: more']"].map((css) =>
  number("SpO2 %").locator(css).boundingBox()));
check(row.every((box) => Math.abs(box.y - row[0].y) < 1), "what takes it away stands in its own row");
check(row[0].width >= 56 && row[0].height >= 83, `${row[0].width} x ${row[0].height} px`);
await number("SpO2 %").locator(".clear").click();
check(await read("SpO2 %") === "not measured", "it is taken away again");
await less.click();
await camp.waitForTimeout(450);
await less.click();
check(/^74 %/.test(await read("SpO2 %")), `a step from the start counts: "${await read("SpO2 %")}"`);
await camp.locator("#panel [aria-label='Pulse per minute: more']").click({ delay: 1200 });
check(/^start 100/.test(await read("Pulse per minute")), "what lies on the glass makes no number: " +
  await read("Pulse per minute"));
await camp.screenshot({ path: `${process.env.OUT}/gloves-numbers.png`, fullPage: true });

// --- numbers of the blank forms, only while one is copied ---
const numbers = () => camp.evaluate(() => [...document.querySelectorAll("#panel [data-paper]")]
  .filter((e) => !["none", "normal"].includes(getComputedStyle(e, "::before").content)).length);
check(await numbers() === 0, "no form's numbers stand beside the questions");
await camp.click("#panel summary:text-is('Written on paper before?')");
check(await numbers() > 10, `${await numbers()} numbers while something is copied from paper`);

// --- a dose has its route, and one name ---
const record = () => camp.click("#panel .bar .act");
const alert = async () => (await camp.textContent("#panel [role=alert]")).trim();
const marked = () => camp.locator("#panel [data-amiss]");
await panel("give");
await button("dexamethasone").click();
await button("8").click();
await record();
check(await alert() === "How was it given?", `without a route: "${await alert()}"`);
check(await marked().count() === 1 && await marked().locator("legend").textContent() === "How?",
  "it is said at the control");
await camp.waitForTimeout(100);
const seen = await camp.evaluate(() => {
  const box = document.querySelector("[data-amiss]").getBoundingClientRect();
  const said = document.querySelector("#panel [role=alert]");
  const bar = document.querySelector("#panel .bar").getBoundingClientRect();
  const at = said.getBoundingClientRect();
  return { control: box.bottom > 0 && box.top < at.top, said: at.bottom <= bar.top + 2 && at.top > 0,
    size: parseFloat(getComputedStyle(said).fontSize), colour: getComputedStyle(said).color,
    warn: getComputedStyle(document.querySelector("[data-amiss]"), "::before").color };
});
check(seen.control && seen.said, `both are in sight: ${JSON.stringify(seen)}`);
check(seen.size >= 18 && seen.colour === seen.warn && seen.colour === "rgb(154, 27, 0)",
  `in the text's size and the colour of warnings: ${JSON.stringify(seen)}`);
await camp.screenshot({ path: `${process.env.OUT}/gloves-amiss.png` });
check(!await button("Into the nose").isVisible(), "rare routes are folded away");
await camp.click("#panel summary:text-is('Another way')");
for (const route of ["By mouth", "Under the tongue", "Into muscle (IM)", "Into vein (IV)",
  "Under skin (SC)", "Inhaled", "Into the nose", "Rectal", "On the skin"]) {
  check(await button(route).isVisible(), `every route the station knows has a button: ${route}`);
}
await button("Into the nose").click();
check(await marked().count() === 0, "what was wrong goes once it is touched");
await camp.fill("#f-Or-another-drug", "naloxone");
await record();
check(/^Choose one/.test(await alert()), `two drugs at once: "${await alert()}"`);
await button("dexamethasone").click();
await record();
await until(() => data("camp", "view", "7-1").episode.doses.some((d) => d.route === "nasal"), 8,
  "a dose by a rare route is recorded");
await panel("give");
await camp.fill("#f-Or-another-drug", "Naloxone");
check(/^Last given/.test(await camp.textContent("#panel [role=status]")),
  "a drug that is typed is warned of too");
await panel("open");
await button("AMS").click();
await button("Asked: none").click();
await camp.fill("#f-Or-which", "penicillin");
await record();
check(/^Choose one/.test(await alert()), `allergies none and one typed: "${await alert()}"`);
await panel("evacuate");
await button("E3 today").click();
await camp.locator("#panel button", { hasText: "At this camp" }).click();
await camp.fill("#f-Its-position-if-another", "28.10460,86.75310");
await record();
check(/^Choose one/.test(await alert()), `two landing places: "${await alert()}"`);

// --- what was not asked at the opening can be asked later ---
await camp.goto(`${site("camp")}/bedside`);
await camp.reload();
await camp.locator("#board button", { hasText: "allergies not asked" }).click();
await camp.waitForSelector("#panel h1:has-text('Background')");
check(await camp.locator("#panel [aria-pressed=true]").count() === 0, "nothing is filled in beforehand");
await record();
check(await alert() === "Choose or type something first.", "nothing is not recorded");
await camp.fill("#f-Allergies-which", "penicillin: rash");
await camp.locator("#panel fieldset", { hasText: "Own medicines" }).locator("button >> nth=0").click();
await camp.fill("#f-Last-meal-which", "soup");
await record();
await until(() => data("camp", "view", "7-1").episode.background.allergies === "penicillin: rash", 8,
  "the allergies are recorded");
const { background, missing } = data("camp", "view", "7-1").episode;
check(background.medicines === "none" && background.last_meal === "soup" &&
  background.history === "not asked", `the rest as it was said: ${JSON.stringify(background)}`);
check(!missing.some((m) => /allergies/.test(m)), "the gap is gone");

// --- every gap of a request has its control: the sheet names them, and none is left ---
const left = () => at("camp", "handover", "7-1").replace(/\s+/g, " ").match(/from the request: ([^.;]*)/);
await panel("evacuate");
await button("E3 today").click();
await record();
await until(() => data("camp", "view", "7-1").episode.request, 8, "evacuation is asked");
check(left() && /cloud base/.test(left()[1]) && /weight/.test(left()[1]), `gaps: ${left()}`);
await panel("evacuate");
await camp.locator("#panel summary", { hasText: "More that a crew asks" }).click();
for (const box of await camp.locator("#panel fieldset").all()) {
  if (!await box.isVisible() || /urgent/.test(await box.textContent()) ||
    await box.locator("[aria-pressed=true]").count()) continue;
  await box.locator("button").first().click();
}
for (const box of await camp.locator("#panel .stepper").all()) {
  if (!await box.isVisible()) continue;
  await box.locator(".reading").click();
  await camp.waitForTimeout(410);
  await box.locator(".reading").click();
}
for (const [label, text] of [["Obstacles near it", "none seen"], ["Weather and its trend", "clear, steady"],
  ["Light ends, UTC with Z", "11:45Z"], ["If nobody comes", "carry down"],
  ["How to reach the party", "145.500 MHz"], ["Insurance (none, or which)", "none"]]) {
  await camp.getByLabel(label).fill(text);
}
await camp.screenshot({ path: `${process.env.OUT}/gloves-evacuate.png`, fullPage: true });
await record();
await until(() => data("camp", "view", "7-1").episode.asked.weight_kg === 80, 8, "the gaps are told");
check(left() === null, `nothing is missing in the request any more: ${left()}`);
await panel("evacuate");
check(await camp.locator("#panel .stepper:visible").count() === 0 &&
  await camp.locator("#panel > fieldset").count() === 1, "nothing but the urgency is asked again");

// --- the chamber: what comes next is one big choice, already chosen ---
const strings = (locator) => locator.evaluateAll((all) => all.filter((e) => e.checkVisibility())
  .map((e) => e.textContent));
const happens = camp.locator("#panel fieldset", { hasText: "What happens now?" }).first();
await panel("chamber");
check((await strings(happens.locator("button"))).join() === "Closed" &&
  await pressed("Closed") === "true", `offered: ${await strings(happens.locator("button"))}`);
check((await happens.locator("button:visible").boundingBox()).height >= 83, "it is large");
await record();
check(await alert() === "Answer first: why not down now?", "why not down is to be answered");
check(await marked().locator("legend").textContent() === "Before each session: why not down now?",
  "the question itself is marked");
check(await camp.evaluate(() => document.querySelector("#panel fieldset").dataset.amiss) !== undefined,
  "and comes first");
await camp.waitForTimeout(100);
await camp.screenshot({ path: `${process.env.OUT}/gloves-chamber.png` });
await button("Dark").click();
await record();
const phase = (name) => until(() => data("camp", "view", "7-1").episode.course.phase === name, 8,
  `the chamber is ${name}`);
await phase("closed");
for (const name of ["pressurising", "at pressure"]) {
  await panel("chamber");
  await record();
  await phase(name);
}
await panel("chamber");
const session = () => camp.textContent("#panel .session");
const [one, left_min] = [await session(), /(\d+) min of the session left/];
check(/^Session 1: at pressure for 0:0/.test(one) && left_min.test(one), `the clock stands there: ${one}`);
await camp.waitForTimeout(2200);
check(await session() !== one, "and runs");
await camp.click("#panel summary:text-is('Something else happens')");
await button("Ears").click();
check(await pressed("Hold") === "true" && await button("Hold").isVisible(), "a reason means a hold");
await record();
await phase("hold");

// --- the pump: a stroke is what somebody did, whatever clocks do and however long a page slept ---
let strokes = 0;
await camp.route("**/entry", (route) => {
  strokes += JSON.parse(route.request().postData()).command === "stroke" ? 1 : 0;
  route.continue();
});
const sleep = (ms) => camp.waitForTimeout(ms);
at("camp", "--by", "Ines", "chamber", "7-1", "resume");
at("camp", "--by", "Ines", "report", "7-1", "worse", "resp", "40", "chamber");
await panel("pump");
await sleep(500);
check(left_min.test(await session()), `the session's time stands there: ${await session()}`);
check(/^ALARMS \(\d+\): .*40/.test(await camp.textContent("#panel .wrong")),
  `and what alarms: ${await camp.textContent("#panel .wrong")}`);
await camp.evaluate(() => pump.setRate(60));
await record();
await sleep(3500);
check(strokes >= 3 && strokes <= 5, `${strokes} strokes in 3.5 s at 60/min`);
const before_sleep = strokes;
await camp.evaluate(() => { const end = performance.now() + 8000; while (performance.now() < end); });
await sleep(500);
check(strokes - before_sleep <= 2, `${strokes - before_sleep} strokes of the 8 s that the page slept`);
await camp.evaluate(() => { const { now } = Date; Date.now = () => now.call(Date) - 3600000; });
const before_clock = strokes;
await sleep(3500);
check(strokes - before_clock >= 3, `${strokes - before_clock} strokes in 3.5 s, the clock an hour back`);
await camp.screenshot({ path: `${process.env.OUT}/gloves-pump.png`, fullPage: true });
check(/^Pump of 7-1: 60\/min, no name 0:00:1\d$/.test(await camp.evaluate(() => pumpLine())),
  `the board tells: ${await camp.evaluate(() => pumpLine())}`);
await camp.evaluate(() => { location.hash = ""; });
await camp.waitForSelector("#board .pumping:visible");
await camp.reload();
await camp.waitForSelector("#board .pumping:has-text('STOPPED when the page was left')");
await camp.click("#board .pumping");
await record();
await camp.evaluate(() => { location.hash = "chamber"; });
await record();
await phase("deflating");
check(await camp.evaluate(() => pump.on()), "while it is let down the rhythm may go on");
await sleep(500);
await camp.evaluate(() => { location.hash = "chamber"; });
await record();
await phase("out of chamber");
check(!await camp.evaluate(() => pump.on()), "out of the chamber it stops");
check(await camp.evaluate(() => pump.state()) === null, "and the board is silent of it");
await camp.evaluate(() => pump.start("7-1"));
at("camp", "--by", "Ines", "descent", "7-1", "no", "dark");
at("camp", "--by", "Ines", "chamber", "7-1", "close");
await until(() => camp.evaluate(() => station.get("/view").then((v) => v.data.episodes[0].course.inside)),
  5, "closed again");
await sleep(1500);
at("camp", "--by", "Ines", "chamber", "7-1", "out");
await until(() => camp.evaluate(() => !pump.on()), 8, "entered elsewhere, it stops too");

// --- a new patient has a letter of its own ---
await panel("open");
const letter = camp.locator("#panel input[id^=f-Patient]");
check(await letter.inputValue() === "B", `beside A the next letter is offered: ${await letter.inputValue()}`);
await button("HAPE").click();
await letter.fill("a");
await record();
check(await alert() === "Another patient in care is called a: choose another.",
  `a used one is refused: "${await alert()}"`);
await letter.fill("B");
await record();
await until(() => data("camp", "view").episodes.some((e) => e.patient === "B"), 8, "B is opened");

// --- what can be corrected: also a report of condition alone, a reassessment, a request ---
at("camp", "--by", "Ines", "give", "7-2", "naloxone", "8mg", "im");
at("camp", "--by", "Ines", "report", "7-2", "critical");
at("camp", "--by", "Ines", "reassess", "7-2", "better", "next", "watch");
at("camp", "--by", "Ines", "evacuate", "7-2", "e3");
await sleep(1100);
at("camp", "--by", "Ines", "give", "7-2", "naloxone", "8mg", "im", "confirmed", "Jory");
await camp.evaluate(() => localStorage.setItem("ridgepost-episode", "7-2"));
await panel("correct");
const entries = await strings(camp.locator("#panel .wholes button"));
for (const text of ["report: critical", "reassessed: better, next: watch", "evacuation: E3"]) {
  check(entries.some((entry) => entry.includes(text)), `${text} is listed: ${entries.join(" | ")}`);
}
const doses = entries.filter((entry) => /naloxone/.test(entry));
const same_minute = new Set(doses.map((entry) => entry.slice(0, 6))).size === 1;
check(doses.length === 2 && doses[0] !== doses[1] &&
  (!same_minute || doses.every((entry) => /entered \d\d:\d\d:\d\dZ$/.test(entry))),
`two equal doses are told apart: ${doses.join(" | ")}`);
await camp.locator("#panel .wholes button", { hasText: "report: critical" }).click();
await button("Wrong patient").click();
await record();
await until(() => data("camp", "view", "7-2").episode.reports.every((row) => row.voided), 8,
  "the report is corrected");

await browser.close();
finish();
