"use strict";
// What pages that enter share: who enters, what waits on this device, what was refused, and the
// line to the station.
const entries = (() => {
  const NAME = "ridgepost-by";
  const NAME_BYTES_MAX = 24; // a name as records hold it

  const by = () => localStorage.getItem(NAME) || "";
  const fits = (name) => new TextEncoder().encode(name).length <= NAME_BYTES_MAX;

  // Asks for the name, keeps it on this device, then goes on.
  function askName(then) {
    const dialog = document.getElementById("ask");
    const name = typed("Who is entering here?", { example: "first and last name", value: by() });
    const said = h("p", { role: "alert" });
    const keep = () => {
      if (!name.value || !fits(name.value)) {
        said.textContent = name.value ? "At most 24 letters: shorten the first name."
          : "Type a name: answers and acknowledgements are given by name.";
        return;
      }
      localStorage.setItem(NAME, name.value);
      dialog.close();
      dialog.dispatchEvent(new Event("named"));
      if (then) then();
    };
    dialog.replaceChildren(h("form", { onsubmit: (event) => {
      event.preventDefault();
      keep();
    } }, h("h2", { id: "ask-title" }, "Your name"),
    h("p", {}, "It stands with everything entered on this device until you change it."),
    name.element, said,
    h("div", { class: "bar" },
      h("button", { type: "button", onclick: () => dialog.close() }, "Back"),
      h("button", { type: "submit", class: "act" }, "Keep this name"))));
    dialog.showModal();
  }
  function named(then) {
    if (by()) then();
    else askName(then);
  }

  // Those who pump, kept on this device.
  const CREW = "ridgepost-crew";
  const crew = () => JSON.parse(localStorage.getItem(CREW) || "[]");
  function addCrew(person) {
    const name = new TextDecoder().decode(new TextEncoder().encode(person).slice(0, NAME_BYTES_MAX));
    localStorage.setItem(CREW, JSON.stringify([...new Set([name, ...crew()])].slice(0, 4)));
  }

  // What became of an entry: "" recorded, "waits" not yet, else the problem of its refusal.
  function settle(key, within_ms = 4000) {
    const until_ms = Date.now() + within_ms;
    return new Promise((resolve) => {
      const look = () => {
        const entry = station.waiting().find((e) => e.key === key);
        if (!entry) resolve("");
        else if (entry.problem) resolve(entry.problem);
        else if (Date.now() > until_ms || station.lostSince() !== null) resolve("waits");
        else setTimeout(look, 60);
      };
      look();
    });
  }

  // The second of a double tap would fall on whatever comes to lie under the finger.
  const DOUBLE_TAP_MS = 400;
  let left_ms = -DOUBLE_TAP_MS;
  const left = () => { left_ms = performance.now(); };
  document.addEventListener("click", (event) => {
    if (performance.now() - left_ms < DOUBLE_TAP_MS) {
      event.preventDefault();
      event.stopPropagation();
    }
  }, true);

  // A double tap enters once.
  function once(button, key) {
    button.disabled = true;
    settle(key).then(() => { button.disabled = false; });
  }

  const told = new Map(); // key of an entry: what was wrong with the last try to record it
  function line(entry) {
    return `${entry.command} ${entry.args.join(" ")}`;
  }
  function refused(entry) {
    return h("div", { class: "refused", "data-keep": `refused-${entry.key}` }, h("strong", {}, "NOT RECORDED: "), `${line(entry)}: `,
      h("strong", {}, entry.problem.text), h("div", { class: "buttons" },
        ...overrule(entry.key, entry, entry.problem),
        kept("drop", entry.key, "Drop it", () => station.remove(entry.key))));
  }
  function kept(word, key, text, onclick) {
    const button = h("button", { type: "button", onclick }, text);
    button.dataset.keep = `${word}-${key}`;
    return button;
  }
  // How a refused entry may be recorded all the same: an unlikely value on the enterer's own word, a
  // dose against the table on the word of a second person.
  function overrule(key, entry, problem, then = () => {}) {
    if (problem.code !== "RP_E_CONFIRM") return [];
    if (entry.command !== "give") {
      return [kept("sure", key, "It is right: record it", () => { station.confirm(key); then(); })];
    }
    const second = typed("Second person who stands for this dose", { example: "name", of: key });
    // What is on the page counts: repaint may have kept an older box.
    const stand = (event) => {
      const box = event.currentTarget.closest(".second");
      const name = box.querySelector("input").value.trim();
      const known = name && fits(name) && name !== (entry.by || by());
      told.set(key, known ? "" : "The name of another person, at most 24 letters.");
      box.querySelector("p").textContent = told.get(key);
      if (known) {
        station.standFor(key, name);
        then();
      }
    };
    return [h("div", { class: "second" }, second.element, h("p", { role: "alert" }, told.get(key)),
      kept("stand", key, "Both stand for it: record it", stand))];
  }
  function waitingBox() {
    const list = station.waiting().filter((entry) => !station.isHeld(entry));
    const remarks = station.remarks();
    if (!list.length && !remarks.length) return "";
    const wait = list.filter((entry) => !entry.problem);
    return h("div", { class: "waits", role: "status" },
      ...list.filter((entry) => entry.problem).map(refused),
      ...(remarks.length ? [h("strong", {}, "The station says:"),
        ...remarks.map((text) => h("p", {}, text)),
        kept("seen", remarks.join(), "Seen", () => station.seenRemarks())] : []),
      wait.length ? h("strong", {}, `${wait.length} ${wait.length === 1 ? "entry waits" : "entries wait"} ` +
        "on this device for the station") : "",
      ...wait.map((entry) => h("div", { class: "small" }, line(entry))));
  }

  function showLine() {
    const lost = document.getElementById("lost");
    const since = station.lostSince();
    lost.hidden = since === null;
    document.body.classList.toggle("stale", since !== null);
    const told_s = station.viewed_s();
    const time = told_s ? clock.time(told_s)
      : `${new Date(since).toISOString().slice(11, 16)}Z (this device's clock)`;
    lost.textContent = since === null ? "" : `No connection to the station since ${time}. ` +
      "Numbers are old; entries wait here. Do not reload: this page is kept only while it is open.";
  }

  return { by, askName, named, settle, once, left, waitingBox, overrule, crew, addCrew, showLine };
})();
