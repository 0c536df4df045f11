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
    const until_ms = performance.now() + within_ms;
    return new Promise((resolve) => {
      const look = () => {
        const entry = station.waiting().find((e) => e.key === key);
        const late = performance.now() > until_ms || station.lostSince() !== null;
        if (!entry) resolve("");
        else if (entry.problem) resolve(entry.problem);
        else if (entry.trouble || late) resolve("waits");
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
    // The header stands still, and is not what closes a panel.
    if (performance.now() - left_ms < DOUBLE_TAP_MS && !event.target.closest("header")) {
      event.preventDefault();
      event.stopPropagation();
    }
  }, true);

  // A double tap enters once.
  function once(button, key) {
    button.disabled = true;
    settle(key).then(() => { button.disabled = false; });
  }

  // --- a form or panel that enters: it stays until it is known what became of its lines ---

  const inForm = new Map(); // key of a refused entry: where its form says so

  // The sender of one form, which says in `said` what becomes of its lines: sender(lines, options).
  // The form is done() when each is recorded or waits, or is dropped; it stays when something is to be
  // changed, and a line that was recorded before is not entered again.
  function sender(said, done) {
    const recorded = new Set();
    let running = null; // a double tap enters once
    let change = null; // set while a refusal asks for a way on
    const enterLine = async (command, args, options) => {
      let key = station.enter(command, args, options);
      for (let became = await settle(key); became && became !== "waits"; became = await settle(key)) {
        key = await askWays(said, key, became, (f) => { change = f; });
        if (key === CHANGE || key === DROP) return key;
      }
      return "";
    };
    const enterAll = async (lines, options) => {
      said.textContent = "asking the station ...";
      for (const [command, args] of lines) {
        const line = JSON.stringify([command, args]);
        const way = recorded.has(line) ? "" : await enterLine(command, args, options);
        if (way === CHANGE) return;
        if (way === DROP) break;
        recorded.add(line);
      }
      said.textContent = "";
      if (!said.isConnected) return; // somebody has left it
      left();
      done();
    };
    // Entered again under a refusal: what was refused is changed.
    return async (...what) => {
      if (change) change();
      else if (running) return;
      await running;
      running = enterAll(...what);
      await running;
      running = null;
    };
  }

  // The ways on from a refusal, in its form: the key of the entry to go on with, CHANGE or DROP.
  const CHANGE = "change";
  const DROP = "drop";
  function askWays(said, key, problem, onChange) {
    const entry = station.waiting().find((e) => e.key === key);
    inForm.set(key, said);
    if (said.isConnected) left(); // the second of a double tap would choose one
    return new Promise((resolve) => {
      const go = (way) => {
        onChange(null);
        said.textContent = "asking the station ...";
        resolve(way);
      };
      const end = (way) => () => {
        station.remove(key);
        go(way);
        said.textContent = "";
      };
      onChange(end(CHANGE));
      said.replaceChildren(h("div", { class: "refused" }, ...refusal(entry, problem),
        h("div", { class: "buttons" }, ...overrule(entry, problem, go),
          h("button", { type: "button", onclick: end(CHANGE) }, "Change it"),
          h("button", { type: "button", onclick: end(DROP) }, "Drop it"))));
      said.scrollIntoView({ block: "center" });
    });
  }

  // --- what waits, and what was refused after waiting ---

  const told = new Map(); // key of an entry: what was wrong with the last try to record it
  function refusal(entry, problem) {
    const reason = plain.reason(problem, entry);
    return [h("strong", {}, "NOT RECORDED: "), `${plain.line(entry)}. `,
      h("strong", {}, reason[0].toUpperCase() + reason.slice(1))];
  }
  function refused(entry) {
    return h("div", { class: "refused", "data-keep": `refused-${entry.key}` },
      ...refusal(entry, entry.problem), h("div", { class: "buttons" },
        ...overrule(entry, entry.problem),
        kept("drop", entry.key, "Drop it", () => station.remove(entry.key))));
  }
  function kept(word, key, text, onclick) {
    const button = h("button", { type: "button", onclick }, text);
    button.dataset.keep = `${word}-${key}`;
    return button;
  }
  // How a refused entry may be recorded all the same: an unlikely value on the enterer's own word, a
  // dose against the table on the word of a second person. then(key): it goes on under this key.
  function overrule(entry, problem, then = () => {}) {
    const { key } = entry;
    if (problem.code !== "RP_E_CONFIRM") return [];
    if (problem.field !== "give") {
      return [kept("sure", key, "It is right: record it", () => then(station.confirm(key)))];
    }
    const stand = (name) => named(() => then(station.standFor(key, name)));
    const people = (entry.people || crew()).filter((name) => name !== (entry.by || by()));
    const second = typed("Or another second person", { example: "name", of: key });
    // What is on the page counts: repaint may have kept an older box.
    const standTyped = (event) => {
      const box = event.currentTarget.closest(".second");
      const name = box.querySelector("input").value.trim();
      const known = name && fits(name) && name !== (entry.by || by());
      told.set(key, known ? "" : "The name of another person, at most 24 letters.");
      box.querySelector("p").textContent = told.get(key);
      if (known) stand(name);
    };
    return [h("div", { class: "second" }, h("p", {}, "A second person may stand for this dose, by name."),
      h("div", { class: "buttons" }, ...people.map((name, i) =>
        kept(`stand-${i}`, key, `${name} stands for it: record it`, () => stand(name)))),
      second.element, h("p", { role: "alert" }, told.get(key)),
      kept("stand", key, "Both stand for it: record it", standTyped))];
  }

  function waiting(entry) {
    return h("div", { class: "small" }, plain.line(entry), entry.trouble
      ? h("strong", {}, ` - cannot be recorded now: ${plain.reason(entry.trouble, entry)}`) : "");
  }
  function waitingBox() {
    const list = station.waiting().filter((entry) => !station.isHeld(entry) &&
      !(inForm.has(entry.key) && inForm.get(entry.key).isConnected));
    const remarks = station.remarks();
    if (!list.length && !remarks.length) return "";
    const wait = list.filter((entry) => !entry.problem);
    const troubled = wait.find((entry) => entry.trouble);
    return h("div", { class: "waits", role: "status" },
      ...list.filter((entry) => entry.problem).map(refused),
      ...(remarks.length ? [h("strong", {}, "The station says:"),
        ...remarks.map((text) => h("p", {}, text)),
        kept("seen", remarks.join(), "Seen", () => station.seenRemarks())] : []),
      wait.length ? h("strong", {}, `${wait.length} ${wait.length === 1 ? "entry waits" : "entries wait"} ` +
        "on this device for the station") : "",
      list.length && !station.keeps() ? h("p", {}, h("strong", {}, "This device cannot keep entries: " +
        "do not close or reload this page until they are recorded.")) : "",
      ...wait.map(waiting),
      ...(troubled ? [h("div", { class: "buttons" },
        kept("again", "all", "Try again", () => station.tryAgain()),
        kept("drop", troubled.key, `Drop it: ${plain.title(troubled)}`, () => station.remove(troubled.key)))]
        : []));
  }

  function showLine() {
    const lost = document.getElementById("lost");
    const since = station.lostSince();
    lost.hidden = since === null;
    document.body.classList.toggle("stale", since !== null);
    if (since === null) {
      lost.textContent = "";
      return;
    }
    if (!station.paired()) {
      lost.replaceChildren("This device is no longer paired with the station: numbers are old, entries " +
        "wait here. ", h("a", { href: "/pair" }, "Pair it again"));
      return;
    }
    const told_s = station.viewed_s();
    const time = told_s ? clock.time(told_s)
      : `${new Date(since).toISOString().slice(11, 16)}Z (this device's clock)`;
    lost.textContent = `No connection to the station since ${time}: numbers are old, entries wait. ` +
      "Do not reload: this page is kept only while it is open.";
  }

  // --- sound: said whenever it is off, and tried on demand ---

  // The strip goes with the next change of what is open: nothing may move under a finger.
  function watchSound() {
    const WORDS = { missed: "An alarm rings and sound is off: tap here",
      off: "Sound is off on this device: tap here", on: "Sound is on",
      never: "This device does not sound: keep this page in sight" };
    const ASLEEP_MS = 30000; // no timer has run for so long
    let state = "";
    let slept = "";
    const strip = h("button", { type: "button", id: "mute", hidden: true, onclick: () => {
      slept = "";
      setTimeout(() => show(sound.ready() ? "on" : "never"), 1000);
    } });
    function show(now) {
      state = now;
      strip.textContent = slept || WORDS[state] || "";
      strip.hidden = !strip.textContent;
      strip.classList.toggle("on", !slept && state === "on");
    }
    const look = () => {
      if (!sound.ready()) show(state === "never" ? "never" : sound.missed() ? "missed" : "off");
      else if (state) show("on");
    };
    sound.on(look);
    addEventListener("hashchange", () => show(sound.ready() ? "" : state));
    let last_ms = Date.now();
    setInterval(() => {
      const gap_ms = Date.now() - last_ms;
      last_ms = Date.now();
      if (gap_ms > ASLEEP_MS) {
        slept = `This page slept for ${span(gap_ms / 1000)}: no alarm sounded here meanwhile. Tap here`;
        show(sound.ready() ? "on" : "off");
      }
    }, 1000);
    document.querySelector(".marks").after(strip);
    look();
  }
  function offerTest() {
    const said = h("span", { role: "status" });
    document.querySelector("footer").append(h("p", {}, h("button", { type: "button", onclick: () => {
      said.textContent = sound.test() ? " Was it heard? If not: turn the volume up."
        : " It does not sound here.";
    } }, "Test the sound"), said));
  }
  watchSound();
  offerTest();

  return { by, askName, named, settle, sender, once, left, waitingBox, crew, addCrew, showLine };
})();
