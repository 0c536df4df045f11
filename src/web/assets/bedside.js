"use strict";
// The bedside page: the next thing to do as the largest thing, the acts, what is known with its age,
// and what base has got.
(() => {
  const board = document.getElementById("board");
  const panelBox = document.getElementById("panel");
  const CHOSEN = "ridgepost-episode";
  let view = null; // the station and all heads
  let episode = null; // the one shown, whole
  let pinned = localStorage.getItem(CHOSEN) || ""; // its name: only a person's tap changes it
  const wholes = new Map(); // by name, as they were known last
  let open = null; // the panel that is open: { name, paint }
  const UNBOUND = ["alarms", "open"]; // panels that are not about the patient shown

  const living = () => (view ? view.episodes.filter((e) => !e.closed) : []);
  // The alarms of all patients, the most pressing first.
  const standing = () => living().flatMap((e) => e.alarms.map((a) => ({ ...a, whose: e })))
    .sort((a, b) => Number(b.sounds) - Number(a.sounds) || alarms.presses(a, b));
  const sounding = () => standing().filter((a) => a.sounds);

  // --- which patient ---

  function pin(name) {
    pinned = name;
    localStorage.setItem(CHOSEN, name);
    unseen.delete(name);
    stopped_ms = -STOPPED_MS; // it was about the one before
  }
  async function whole(name) {
    const { data } = await station.get(`/view?episode=${encodeURIComponent(name)}`);
    wholes.set(name, data.episode);
    return data.episode;
  }

  // Patients that somebody else has opened since this page was: said, and never switched to.
  const unseen = new Set();
  let known = null;
  function noteNew() {
    const names = living().map((e) => e.name);
    names.filter((name) => known && !known.has(name) && name !== pinned).forEach((n) => unseen.add(n));
    known = new Set([...(known || []), ...names]);
  }

  // What is asked of the station comes one after another, so that nothing older is shown last.
  let line = Promise.resolve();
  const inLine = (f) => { line = line.then(f, f); return line; };
  let waits = false;
  function refresh() {
    if (waits) return line;
    waits = true;
    return inLine(async () => {
      waits = false;
      try {
        await look();
      } catch {
        // The line to the station says so itself.
      }
      render();
    });
  }
  // While a panel is open its patient stays, whatever else happens.
  async function look() {
    const all = await station.get("/view");
    clock.set(all.data);
    view = all.data;
    pump.know(view.episodes);
    if (!pinned && !open && living().length) pin(living()[0].name); // the most urgent one
    noteNew();
    const name = open && episode ? episode.name
      : living().some((e) => e.name === pinned) ? pinned : "";
    const one = name ? await whole(name) : null;
    if (open && (episode ? episode.name : "") !== name) return;
    episode = one;
    tellPerson("");
  }
  // Another patient, on a person's tap. What cannot be followed is said.
  function choose(name, then) {
    return inLine(async () => {
      const one = station.lostSince() === null ? await whole(name).catch(() => null) : null;
      const found = one || wholes.get(name);
      if (open && !UNBOUND.includes(open.name)) return;
      if (found) {
        pin(name);
        episode = found;
      } else tellPerson(`${name} cannot be shown now: no connection to the station.`);
      render();
      if (then && found) then();
    });
  }
  const shows = (name) => episode !== null && episode.name === name;
  const withPatient = (name, then) => { if (shows(name)) then(); else void choose(name, then); };

  function tellPerson(text) {
    const told = document.getElementById("told");
    told.textContent = text;
    told.hidden = !text;
  }

  // --- what is next ---

  // A button that opens a panel; its name says which, whatever it reads.
  function way(to, className, ...children) {
    const button = h("button", { type: "button", class: className, onclick: () => go(to) }, ...children);
    button.dataset.keep = to;
    return button;
  }

  // What is about another patient shows that one first.
  function nextCard() {
    const empty = view.episodes.length ? "nobody is in care" : "nothing is recorded yet";
    const thing = next.thing({ episode, sounding: sounding() }) ||
      (living().length ? null : { say: "Open a patient", more: empty, mark: "", to: "open" });
    if (!thing) return "";
    const card = h("button", { type: "button", class: `next ${thing.mark.toLowerCase()}`, onclick: () => {
      if (!thing.of || shows(thing.of)) go(thing.to);
      else void choose(thing.of).then(() => { if (!open) go(thing.to); });
    } }, thing.mark ? h("b", { class: "badge" }, thing.mark) : "", h("strong", {}, thing.say),
    h("span", {}, thing.more));
    card.dataset.keep = `next-${thing.to}-${thing.of || ""}`;
    return card;
  }

  // --- the board ---

  function pumpCard() {
    if (!pumpLine()) return "";
    const card = way("pump", "pumping", ticking(pumpLine));
    card.dataset.keep = "pumping";
    return card;
  }

  // Kept at once, so that closing the page loses nothing; it goes when the time to stop it is over.
  // What a tap does is what was painted: a double tap, or one on a label that has grown old, neither
  // stops nor adds anything.
  const SAME_MS = 700;
  const STOPPED_MS = 5000;
  let same_ms = -SAME_MS; // of the last tap on it
  let stopped_ms = -STOPPED_MS;
  const held = () => station.waiting().find((entry) => station.isHeld(entry) && entry.args[0] === episode.name);
  function noChange(painted) {
    if (performance.now() - same_ms < SAME_MS) return;
    same_ms = performance.now();
    const entry = held();
    if (painted && entry && entry.key === painted) {
      station.remove(painted);
      stopped_ms = performance.now();
    } else if (!painted && !entry) {
      station.enter("report", [episode.name, "same"], { hold_until_ms: Date.now() + station.HOLD_MS });
    }
    render();
  }
  function sameButton() {
    const entry = held();
    const key = entry ? entry.key : "";
    const stopped = performance.now() - stopped_ms < STOPPED_MS;
    const button = h("button", { type: "button", onclick: () => noChange(key), "data-entry": key }, entry
      ? `Sent in ${Math.ceil((entry.hold_until_ms - Date.now()) / 1000)} s - tap to stop` : "No change",
    !entry && stopped ? h("small", { role: "status" }, "stopped, NOT sent") : "");
    button.dataset.keep = "same";
    return button;
  }

  // By use; what is rarer is folded, and one tap further.
  const folds = [["descent", "Going down?"], ["note", "Note"],
    ["background", "Background"], ["correct", "Correct"], ["sheet", "Handover"], ["close", "Close"]];
  function acts() {
    const both = [way("pump", "", "Pump rhythm"), way("reassess", "", "Reassess")];
    const [used, rare] = episode.course.inside ? both : both.reverse();
    const fold = h("details", { class: "more" }, h("summary", {}, "More"), h("div", { class: "acts" },
      ...folds.map(([to, text]) => way(to, "", text)), rare,
      way("open", "alone", "New patient")));
    fold.dataset.keep = "more";
    return h("div", {}, h("div", { class: "acts main" }, way("observe", "", "Observe"), sameButton(),
      way("chamber", "", "Chamber"), used, way("give", "", "Drug given"), way("oxygen", "", "Oxygen"),
      way("evacuate", "ask", evacuationWords())), fold);
  }

  function evacuationWords() {
    if (!episode.request) return "Ask for evacuation";
    const asked = `${episode.request.urgency.toUpperCase()} ${episode.evacuation}`;
    return `Evacuation: ${asked} (${span(clock.now_s() - episode.request.asked_s)} ago) - ` +
      `${episode.request.level_withdrawn ? "its conscious level was WITHDRAWN: " : ""}revise`;
  }

  // Alarms that were silenced or acknowledged still stand: how many, and the way to them.
  function alarmsRow() {
    const all = standing();
    if (!all.length) return "";
    const silent = all.filter((a) => a.snoozed);
    const parts = [[sounding().length, "sounding"], [silent.length, silent.length ? `silent until ` +
      clock.time(Math.min(...silent.map((a) => a.until_s))) : ""],
    [all.filter((a) => a.acknowledged).length, "acknowledged"]].filter(([n]) => n > 0);
    return way("alarms", "stand", `${all.length} ${all.length === 1 ? "alarm stands" : "alarms stand"}: ` +
      parts.map(([n, word]) => `${n} ${word}`).join(", "));
  }

  function newcomers() {
    return living().filter((e) => unseen.has(e.name) && !shows(e.name)).map((e) => {
      const button = (word, text, onclick) => {
        const element = h("button", { type: "button", onclick }, text);
        element.dataset.keep = `${word}-${e.name}`;
        return element;
      };
      const row = h("div", { class: "waits", role: "status" }, h("strong", {}, `New patient: ${titled(e)}`),
        h("div", { class: "buttons" }, button("show", "Show", () => void choose(e.name)),
          button("later", "Seen", () => { unseen.delete(e.name); render(); })));
      row.dataset.keep = `new-${e.name}`;
      return row;
    });
  }

  function switcher() {
    const others = living();
    if (others.length < (episode ? 2 : 1)) return "";
    const about = (e) => [titled(e), e.alarms.length ? `${e.alarms.length} ` +
      `${e.alarms.length === 1 ? "alarm" : "alarms"}` : "",
    e.request && e.request.eta_s && !e.request.eta_read_back ? `expected ${clock.time(e.request.eta_s)}, ` +
      "NOT read back" : ""].filter(Boolean).join("; ");
    const picker = choices("Which patient?", others.map((e) => [e.name, about(e)]),
      episode ? episode.name : "", (name) => { if (name && !shows(name)) void choose(name); render(); });
    picker.element.dataset.keep = "which";
    return picker.element;
  }

  function render() {
    if (!view) return;
    const who = document.getElementById("who");
    who.textContent = `${view.self.name}${episode ? `: ${titled(episode)}` : ""}`;
    const exercise = view.self.exercise || (episode && episode.exercise);
    document.getElementById("exercise").hidden = !exercise;
    document.getElementById("name").textContent = entries.by() || "Your name?";
    if (open) {
      if (open.paint) open.paint();
      return;
    }
    const radioReady = view.self.radio_ready;
    const slot = h("div", { class: "slot" }, entries.waitingBox(), ...newcomers());
    repaint(board, [slot, nextCard(), h("div", { class: "slot" }, episode
      ? facts.strip(episode, radioReady) : "", pumpCard(), alarmsRow()), ...(episode
      ? [h("div", {}, acts(), switcher()), h("div", {}, ...facts.sections({ episode, radioReady, way }))]
      : [h("div", {}, asks(), switcher(), living().length ? way("open", "", "New patient") : "")])]);
  }
  // The chosen one was closed, or is not known here: no guess.
  function asks() {
    return living().length ? h("p", { class: "which" }, `${pinned} is closed, or not known here.`) : "";
  }

  // --- panels ---

  // From one panel to another in the place of the first, and always back to the board: what was
  // entered is never one step behind.
  function go(name) {
    if (open) location.replace(`#${name}`);
    else if (location.hash === `#${name}`) openPanel(name);
    else location.hash = name;
  }
  const leave = () => location.replace("#");

  let opener = ""; // the button that opened the panel: the focus goes back to it
  function openPanel(name) {
    const definition = panels[name];
    if (name === "" || (!definition && !special[name.split(":")[0]]) ||
      (!episode && !UNBOUND.includes(name))) {
      if (name) history.replaceState(null, "", "#"); // the next tap on it opens it
      closePanel();
      return;
    }
    if (!open) opener = name;
    open = { name, paint: null };
    panelBox.replaceChildren();
    if (definition) buildEntry(definition);
    else special[name.split(":")[0]](name.split(":").slice(1).join(":"));
    board.hidden = true;
    panelBox.hidden = false;
    scrollTo(0, 0);
    const title = panelBox.querySelector("h1");
    if (title) {
      if (!UNBOUND.includes(name)) title.append(" ", h("span", { class: "whom" }, titled(episode)));
      title.tabIndex = -1;
      title.focus({ preventScroll: true });
    }
  }

  function closePanel() {
    if (open) {
      entries.left();
      void refresh();
    }
    open = null;
    panelBox.hidden = true;
    panelBox.replaceChildren();
    board.hidden = false;
    render();
    const button = opener && board.querySelector(`.acts [data-keep="${CSS.escape(opener)}"]`);
    if (button) button.focus({ preventScroll: true });
    opener = "";
  }

  // What was written on paper before it is entered here keeps its time and its writer.
  function fromPaper() {
    const ago = choices("How long ago was it?", [["10", "10 min"], ["20", "20 min"], ["30", "30 min"],
      ["45", "45 min"], ["60", "1 hour"], ["90", "1 h 30"], ["120", "2 hours"], ["180", "3 hours"]]);
    ago.element.classList.add("thirds");
    const other = typed("Or how many minutes ago", { example: "25" });
    const writer = person("Who wrote it?", peopleOf(episode), "Or another writer");
    numbered([ago, "observations.TIME"], [writer, "observations.BY"]);
    const { element } = folded("Written on paper before?", ago, other, writer);
    element.classList.add("paper");
    return {
      element,
      // What goes with the entry, or a string that says what is wrong.
      options() {
        const min = Number(other.value || ago.value || NaN);
        if (!other.value && !ago.value) return writer.value ? "Say how long ago it was." : {};
        if (!Number.isInteger(min) || min < 0) return "Whole minutes: 25.";
        return { via: "paper", ago_min: min, ...(writer.value ? { by: writer.value } : {}) };
      },
    };
  }

  function buildEntry(definition) {
    const built = definition.build({ episode, view, open: go });
    const paper = fromPaper();
    const said = h("div", { role: "alert" });
    const enter = entries.sender(said, () => location.replace("#")); // never back into a form
    const of = episode ? { patient: episode.patient, people: peopleOf(episode) } : {};
    const send = h("button", { type: "button", class: "act", onclick: () => {
      const lines = built.words();
      const options = paper.options();
      const problem = [lines, options].find((answer) => typeof answer === "string");
      if (problem) {
        said.textContent = problem;
        said.scrollIntoView({ block: "center" });
      } else void enter(lines, { ...options, ...of });
    } }, "Record");
    panelBox.append(h("h1", {}, definition.title), ...built.body, paper.element, said, bar(send));
  }

  function bar(...buttons) {
    return h("div", { class: "bar" },
      h("button", { type: "button", onclick: leave }, "Back"), ...buttons);
  }

  // The acts that belong to an alarm; some only go with others.
  const SIGN_ACTS = ["observe", "evacuate", "note"];
  const todo = { conscious: SIGN_ACTS, "spo2-band": SIGN_ACTS, "spo2-fall": SIGN_ACTS, resp: SIGN_ACTS,
    pulse: SIGN_ACTS, "spo2-no-rise": ["observe", "chamber", "evacuate"], obs: ["observe"],
    rebound: ["observe", "evacuate"], "dead-man": ["observe", "chamber"], drug: ["give"],
    "dose-soon": ["correct", "note"], oxygen: ["oxygen", "evacuate"], "oxygen-eta": ["oxygen", "evacuate"],
    hold: ["chamber"], session: ["chamber", "observe"], pressure: ["chamber"], pump: ["pump"],
    rotation: ["pump"], "last-descent": ["descent", "evacuate"], "why-not-down": ["descent"],
    eta: ["chamber", "sheet"], "head-up": ["chamber"] };
  const titles = { pump: "Pump rhythm", sheet: "Handover" };
  function alarmRow(a) {
    const at = `${a.episode}-${a.rule}-${a.about}`;
    const row = h("div", { class: "alarm-row" }, h("span", { class: "badge" }, alarms.word(a)), " ",
      h("strong", {}, `${called(a.whose)}: ${a.reason}`),
      h("div", { class: "small" }, `since ${clock.time(a.since_s)}` +
        (a.value_s ? `, value ${age(a.value_s)}` : "") +
        (a.acknowledged ? `, acknowledged by ${a.by}` : a.snoozed ? `, silent until ` +
          `${clock.time(a.until_s)} by ${a.by}` : "")),
      h("p", {}, `Next: ${a.next}`), h("div", { class: "buttons" }, ...(todo[a.rule] || []).map((to, i) => {
        const button = h("button", { type: "button", class: i ? "" : "act", onclick: () =>
          withPatient(a.episode, () => go(to)) }, titles[to] || panels[to].title);
        button.dataset.keep = `${to}-${at}`;
        return button;
      })), alarms.buttons(a, () => { if (standing().length < 2) leave(); }));
    row.dataset.keep = at;
    return row;
  }

  const special = {
    alarms() {
      const rows = h("div", {});
      open.paint = () => {
        const all = standing();
        repaint(rows, all.length ? all.map(alarmRow) : [h("p", {}, "No alarm stands.")]);
      };
      open.paint();
      panelBox.append(h("h1", {}, "Alarms"), rows, bar());
    },
    readback(record) {
      const answer = episode.answers.find((a) => a.record === record);
      if (!answer) {
        leave();
        return;
      }
      const eta = answer.eta_s ? clock.time(answer.eta_s) : "";
      const heard = [answer.kind, eta, answer.whom].filter(Boolean).join(", ");
      const text = [heard, answer.text].filter(Boolean).join(", ");
      let sent = false;
      panelBox.append(h("h1", {}, "Read it back"),
        h("p", {}, "Read this aloud to the party, then confirm. Base sees that it was read back."),
        h("p", { class: "value" }, text),
        bar(h("button", { type: "button", class: "act", onclick: () => {
          if (sent) return;
          sent = true;
          station.enter("readback", [episode.name, record, `${heard} `]);
          leave();
        } }, "Read back and understood")));
    },
    pump() {
      pumpPanel(panelBox, bar, () => episode);
    },
    // The sheet, or another form of it that is said or shown; and what the team takes along.
    sheet(form = "") {
      const text = h("pre", { class: "sheet", tabIndex: 0 }, "asking the station ...");
      const shown = h("div", {}, text);
      const said = h("p", { role: "status" });
      const narrow = innerWidth < 800; // of 32 columns, so that nothing is cut
      const CODE_MAX_PX = 480;
      const names = [[narrow ? "roll32" : "text", "The sheet"], ["spoken", "To be said in 45 s"], ["ethane", "First call"],
        ["pilot", "Pilot card"]];
      const show = async (which, numbered = false) => {
        try {
          const reply = await sheets.whole(episode, which || names[0][0], "", numbered);
          text.textContent = reply.text;
          shown.replaceChildren(text);
          said.textContent = numbered ? `Sheet ${reply.data.sheet}, check ${reply.data.check}.` : "";
        } catch (problem) {
          text.textContent = `The sheet cannot be made now: ${problem.message}`;
        }
      };
      const draw = async (drawing, then) => {
        said.textContent = "The sheet is being drawn ...";
        try {
          const made = await sheets.drawn(episode, drawing);
          said.textContent = `Sheet ${made.number}, check ${made.check}. ${await then(made)}`;
        } catch (problem) {
          said.textContent = `The sheet cannot be drawn now: ${problem.message}`;
        }
      };
      const codes = async ({ blob, number }) => {
        shown.replaceChildren(await sheets.codes(blob, `Codes of sheet ${number} for a camera`,
          Math.min(shown.clientWidth, CODE_MAX_PX)));
        picker.set("");
        return "Each code is plain text for another phone's camera; hold the screen bright and still.";
      };
      const save = ({ blob, name }) => {
        sheets.save(blob, blob.type, name);
        return `Saved as ${name}.`;
      };
      const button = (label, onclick) => h("button", { type: "button", onclick }, label);
      const number = () => {
        picker.set(names[0][0]);
        void show(names[0][0], true);
      };
      const picker = choices("Form", names, form || names[0][0], show);
      panelBox.append(h("h1", {}, "Handover"), picker.element,
        h("div", { class: "buttons", role: "group", "aria-label": "For the team, with a number" },
          button("Codes to scan", () => void draw("screen", codes)),
          button("Page (PDF)", () => void draw("pdf", save)),
          button("Number the sheet", number)),
        said, shown, bar(h("button", { type: "button", class: "act", onclick: () => go("taken") },
          "Taken over ...")));
      show(form);
    },
  };

  // --- life ---

  document.getElementById("light").addEventListener("click", nextLight);
  addEventListener("hashchange", () => openPanel(location.hash.slice(1)));
  station.on("view", refresh);
  station.on("waiting", render);
  station.on("recorded", (entry, data) => {
    if (entry.command === "open" && data.episode) void choose(data.episode);
  });
  station.on("line", entries.showLine);
  let counted = false; // once more when the time to stop it is over
  setInterval(() => {
    tick();
    const counts = station.waiting().some(station.isHeld);
    if (counts || counted) render();
    counted = counts;
  }, 1000);
  setInterval(render, 5000);
  setInterval(refresh, 15000); // alarms come with time alone, without a record
  setInterval(() => alarms.ring(sounding()), 1000);
  document.getElementById("name").addEventListener("click", () => entries.askName());
  document.getElementById("ask").addEventListener("named", render);
  stayAwake();
  refresh().then(() => openPanel(location.hash.slice(1)));
  station.live();
})();
