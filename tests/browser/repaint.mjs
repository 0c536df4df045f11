// What a person is doing on the board outlives what happens around it: the board is painted anew
// whenever a record comes in.
import { at, check, data, device, finish, launch, pair, until } from "./kit.mjs";

const browser = await launch();
at("camp", "--by", "Ines", "open", "hace", "patient", "A", "allergies", "none");
at("camp", "--by", "Ines", "give", "7-1", "dexamethasone", "8mg", "im", "checked", "Jory");
const camp = await device(browser, "390x844");
await pair(camp, "camp", "bedside", "Ines");
await camp.waitForSelector("#board:visible >> text=dexamethasone");

let reports = 0;
async function paintedAnew() {
  reports += 1;
  const spo2 = 60 + reports;
  at("camp", "--by", "Ines", "report", "7-1", "same", "spo2", String(spo2), "air");
  await camp.waitForSelector(`#board >> text=${spo2}`);
}

// Two doses against the table wait for a second name.
await camp.evaluate(() => {
  for (const dose of ["8mg", "4mg"]) {
    station.enter("give", ["7-1", "dexamethasone", dose, "im", "checked", "Jory"]);
  }
});
await until(async () => await camp.locator("#board .refused").count() === 2, 8, "both are refused");
const box = camp.locator("#board .refused", { hasText: "4 mg" });
const name = box.locator("input");
check(await camp.evaluate(() => new Set([...document.querySelectorAll("#board .refused input")]
  .map((e) => e.id)).size) === 2, "each field has an id of its own");

await name.fill("Ines");
await box.locator("button:text-is('Both stand for it: record it')").click();
await paintedAnew();
check(/name of another/.test(await box.locator("[role=alert]").textContent()),
  "what is wrong stays to be read");

await name.fill("Jor");
await name.evaluate((e) => e.setAttribute("spellcheck", "false")); // as an extension of the browser may do
await paintedAnew();
check(await name.inputValue() === "Jor", "a name half typed stays");
await camp.keyboard.type("y");
check(await name.inputValue() === "Jory", "the focus stays in the field");

await camp.locator("#board .refused", { hasText: "8 mg" })
  .locator("button:text-is('Drop it')").click();
await until(async () => await camp.locator("#board .refused").count() === 1, 4, "the other one goes");
check(await name.inputValue() === "Jory", "a name stays with the dose it was typed for");
await box.locator("button:text-is('Both stand for it: record it')").click();
const doses = () => data("camp", "view", "7-1").episode.doses.map((d) => d.dose_text);
await until(() => doses().length === 2, 8, "the dose is recorded on the word of two");
check(doses().join() === "8 mg,4 mg", `the dose that was meant: ${doses().join()}`);
await browser.close();
finish();
