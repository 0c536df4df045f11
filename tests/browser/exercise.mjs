// A rehearsal cannot be taken for real, on either page.
import { check, data, device, finish, launch, look, pair, report } from "./kit.mjs";

const browser = await launch();
const camp = await device(browser, "390x844");
await pair(camp, "camp", "bedside", "Ines Okafor");
await camp.waitForSelector("#exercise:not([hidden])");
await camp.click(".next");
await camp.click("#panel button:text-is('AMS')");
await camp.waitForSelector("#exercise:visible");
await look(camp, "exercise-panel", { target_px: 56 });
await camp.click("#panel .bar .act");
await camp.waitForSelector("#board >> text=never observed");
await look(camp, "exercise-bedside", { target_px: 56 });
check(data("camp", "view", "7-1").episode.exercise, "what is entered is marked");
const base = await device(browser, "1366x768");
await pair(base, "base", "base");
await base.waitForSelector("#list .card >> text=EXERCISE", { timeout: 60000 });
await base.waitForSelector("#exercise:visible");
check(/EXERCISE/.test(await base.textContent("#exercise")), "base says so above all");
await look(base, "exercise-base");
await base.goto("http://127.0.0.1:18302/base#7-1/handover");
await base.waitForSelector("#one pre.sheet:has-text('EXERCISE')");
report("exercise");
await browser.close();
finish();
