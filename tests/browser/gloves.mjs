// What gloves do: touches that bounce, a stray one, large text, and what is asked for at the control
// itself. The panels and the pump.
import { at, check, data, device, finish, launch, pair, site, until } from "./kit.mjs";

const browser = await launch();
at("camp", "--by", "Ines", "open", "hace", "patient", "A");
const camp = await device(browser, "320x568");
await pair(camp, "camp", "bedside", "Ines");
await camp.waitForSelector("#board .acts");
const panel = async (name) => {
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
check(await camp.textContent("#panel .keypad output") === "8 mg", "a double tap on a key is one digit");
await camp.waitForTimeout(450);
await button("8").click();
check(await camp.textContent("#panel .keypad output") === "88 mg", "a later one is another digit");

await browser.close();
finish();
