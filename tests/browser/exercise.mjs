// A rehearsal cannot be taken for real, on either page.
import { check, data, device, finish, launch, look, pair, report, site, step } from "./kit.mjs";

const browser = await launch();
const camp = await device(browser, "390x844");
await pair(camp, "camp", "bedside", "Ines Okafor");
await camp.waitForSelector("#exercise:not([hidden])");
await camp.click(".next");
await camp.click("#panel button:text-is('AMS')");
await camp.waitForSelector("#exercise:visible");
await camp.evaluate(() => scrollTo(0, document.documentElement.scrollHeight));
await camp.waitForTimeout(200);
const mark = await camp.locator("#exercise").boundingBox();
check(mark.y >= 0 && mark.y < 100, "EXERCISE stays in sight however far the page is scrolled");
await camp.evaluate(() => scrollTo(0, 0));
await look(camp, "exercise-panel", { target_px: 56 });
await camp.click("#panel .bar .act");
await camp.waitForSelector("#board >> text=never observed");
await look(camp, "exercise-bedside", { target_px: 56 });
check(data("camp", "view", "7-1").episode.exercise, "what is entered is marked");

// What stood on paper: by the form's numbers, with its time and its writer.
await camp.waitForTimeout(450);
await camp.click("#board .acts button:text-is('Observe')");
const number = (label) => camp.evaluate((name) => {
  const of = [...document.querySelectorAll("#panel [data-paper]")];
  return of.find((e) => e.textContent === name).dataset.paper;
}, label);
check(await number("SpO2 %") === "1.11 2.21", "SpO2 has the numbers it has on paper");
await step((selector) => camp.click(selector), "SpO2 %", "less");
await camp.click("#panel summary:text-is('Written on paper before?')");
await camp.click("#panel button:text-is('20 min')");
await camp.fill("#panel details[open] input[placeholder='e.g. name']", "Jory");
await look(camp, "exercise-paper", { target_px: 56 });
await camp.click("#panel .bar .act");
await camp.waitForSelector("#board >> text=min old");
const [written] = data("camp", "view", "7-1").episode.observations;
check(written.via === "paper" && written.by === "Jory", "it is entered from paper, by its writer");
check(written.recorded_s - written.happened_s === 1200, "it happened 20 min ago");
const base = await device(browser, "1366x768");
await pair(base, "base", "base");
await base.waitForSelector("#list .card >> text=EXERCISE", { timeout: 60000 });
await base.waitForSelector("#exercise:visible");
check(/EXERCISE/.test(await base.textContent("#exercise")), "base says so above all");
await look(base, "exercise-base");
await base.goto(`${site("base")}/base#7-1/handover`);
await base.waitForSelector("#one pre.sheet:has-text('EXERCISE')");
report("exercise");
await browser.close();
finish();
