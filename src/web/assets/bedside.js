"use strict";
// The bedside page: the next thing to do as the largest thing, the acts, what is known with its age,
// and what base has got.
(() => {
  const board = document.getElementById("board");
  const panelBox = document.getElementById("panel");
  let view = null; // the station and all heads
  let episode = null; // the one shown, whole
  let open = null; // the panel that is open: { name, controls }
  const held = () => station.waiting().find(station.isHeld); // "no change" that can be stopped

  const chosen = () => localStorage.getItem("ridgepost-episode") || "";

  // --- what is next ---

  function lastObserved_s() {
    const seen = (episode.observations || []).filter((o) => !o.voided);
    return seen.length ? seen[seen.length - 1].taken_s : null;
  }

  const sounding = () => (episode ? episode.alarms.filter((a) => a.sounds) : []);

  function unread() {
    return (episode.answers || []).find((a) => a.kind !== "seen" && !a.read_back && !a.voided);
  }

  // { say, more, pressing, to }
  function nextThing() {
    if (!episode) {
      return { say: "Open a patient", more: "nothing is recorded yet", to: "open" };
    }
    const alarm = sounding()[0]; // the most pressing comes first
    const answer = unread();
    if (alarm && (alarm.sound === "fast" || !answer)) {
      return {
        say: alarm.reason, pressing: true,
        more: `ALARM${alarm.value_s ? `, value ${age(alarm.value_s)}` : ""}: ${alarm.next}` +
          (sounding().length > 1 ? ` (${sounding().length - 1} more)` : ""),
        to: "alarms",
      };
    }
    if (answer) {
      const eta = answer.eta_s ? ` ${clock.time(answer.eta_s)}` : "";
      return {
        say: `Base says: ${answer.kind}${eta}`, pressing: true,
        more: `${[answer.whom, answer.text].filter(Boolean).join(": ")} - tap to read it back`,
        to: `readback:${answer.record}`,
      };
    }
    const c = episode.course;
    if (c.inside && c.phase !== "at pressure") {
      return { say: `Chamber: ${c.phase}`, more: "tap for what happens next",
        to: "chamber", pressing: c.phase === "hold" };
    }
    const last_s = lastObserved_s();
    const due_s = episode.obs_due_s || (c.rebound ? c.rebound_check_s : 0);
    if (!due_s) {
      return { say: "Observe", more: "nothing is due", pressing: false, to: "observe" };
    }
    const late_s = clock.now_s() - due_s;
    return {
      say: late_s >= 0 || last_s === null ? "Observe now" : `Observe at ${clock.time(due_s)}`,
      more: last_s === null ? "never observed" : late_s >= 60 ? `${span(late_s)} overdue`
        : `last ${age(last_s)}`,
      pressing: late_s >= 0 || last_s === null, to: "observe",
    };
  }

  // A button that opens a panel; its name says which, whatever it reads.
  function way(to, className, ...children) {
    const button = h("button", { type: "button", class: className, onclick: () => go(to) }, ...children);
    button.dataset.keep = to;
    return button;
  }

  function nextCard() {
    const next = nextThing();
    const card = way(next.to, next.pressing ? "next pressing" : "next", h("strong", {}, next.say),
      h("span", {}, next.more));
    card.dataset.keep = `next-${next.to}`;
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
  function noChange() {
    const entry = held();
    if (entry) station.remove(entry.key);
    else station.enter("report", [episode.name, "same"], { hold_until_ms: Date.now() + station.HOLD_MS });
    render();
  }

  function acts() {
    const entry = held();
    const same = h("button", { type: "button", onclick: noChange }, entry
      ? `Sent in ${Math.ceil((entry.hold_until_ms - Date.now()) / 1000)} s - tap to stop` : "No change");
    same.dataset.keep = "same";
    return h("div", { class: "acts" }, way("observe", "", "Observe"), same,
      way("chamber", "", "Chamber"), way("pump", "", "Pump rhythm"), way("give", "", "Drug given"),
      way("oxygen", "", "Oxygen"), way("reassess", "", "Reassess"),
      way("descent", "", "Going down?"), way("background", "", "Background"), way("note", "", "Note"), way("correct", "", "Correct"),
      way("sheet", "", "Handover"), way("open", "", "New patient"),
      way("evacuate", "ask", evacuationWords()));
  }

  function evacuationWords() {
    if (!episode.request) return "Ask for evacuation";
    const asked = `${episode.request.urgency.toUpperCase()} ${episode.evacuation}`;
    return `Evacuation: ${asked} (${span(clock.now_s() - episode.request.asked_s)} ago) - revise`;
  }

  const signNames = [["spo2_pct", "SpO2", (v) => `${v} %`], ["pulse_bpm", "Pulse", (v) => `${v}/min`],
    ["resp_rpm", "Breathing", (v) => `${v}/min`], ["acvpu", "Conscious", (v, s) => s.word],
    ["airway", "Airway", (v, s) => s.word],
    ["temp_dc", "Temperature", (v) => `${(v / 10).toFixed(1)} \u00b0C`]];

  function signs() {
    const list = h("dl", { class: "signs" });
    for (const [key, name, show] of signNames) {
      const sign = episode.signs[key];
      list.append(h("dt", {}, name), sign
        ? h("dd", {}, h("span", { class: "value" }, show(sign.value, sign)), " ",
          h("span", { class: "small" }, `${sign.mode}, ${age(sign.taken_s)}`))
        : h("dd", { class: "small" }, "not measured"));
    }
    return h("section", {}, h("h2", {}, "Last values"), list);
  }

  // The station's own clock: where the patient is, what is left, all sessions against the plan.
  function chamberClock() {
    const c = episode.course;
    if (c.sessions === 0) return "";
    const more_s = clock.now_s() - station.viewed_s();
    const counts = c.inside && (c.phase === "at pressure" || c.phase === "hold");
    const total_s = c.total_s + (counts ? more_s : 0);
    const left_s = Math.max(0, c.session_left_s - (counts ? more_s : 0));
    const plan = c.plan ? ` of ${c.plan.least_s / 60} min or more planned for ${c.plan.illness}` : "";
    const rows = c.inside
      ? [h("p", {}, h("span", { class: "value" }, ticking(() => running(clock.now_s() - c.phase_since_s))),
        ` ${c.phase}; `, h("span", { class: "value" }, left_s > 0 ? span(left_s) : "OVER"),
        left_s > 0 ? " of this session left" : ": the session's time")]
      : c.rebound ? [h("p", {}, `Watch for relapse until ${clock.time(c.rebound_until_s)}, next ` +
        `check ${clock.time(c.rebound_check_s)}`)] : [];
    return h("section", {}, h("h2", {}, c.inside ? `Chamber, session ${c.session}: ${c.phase}`
      : "Out of the chamber"), ...rows,
    h("p", {}, `${span(total_s)} at pressure in all${plan}`),
    c.head_up ? h("p", {}, "Head end raised?") : "",
    c.last_start_s ? h("p", {}, c.last_start_s > clock.now_s()
      ? `Last safe start down ${clock.time(c.last_start_s)}, light ends ${clock.time(c.light_end_s)}`
      : h("strong", {}, `Too late to start down in daylight: it was ${clock.time(c.last_start_s)}`)) : "",
    c.why_not_due && !c.inside ? h("p", {}, "Why not down? To be answered before a session.") : "");
  }

  function dueDrugs() {
    if (!episode.drugs_due.length) return "";
    return h("section", {}, h("h2", {}, "Next due by the table"), h("ul", { class: "plain" },
      ...episode.drugs_due.map((d) => h("li", {}, h("strong", {}, d.drug), `: interval over ` +
        clock.time(d.due_s), clock.now_s() > d.due_s ? h("strong", {}, " - OVERDUE") : "",
      h("span", { class: "small" }, ` given ${clock.time(d.last_s)}` +
        (d.reviewed ? "" : "; the table is NOT REVIEWED"))))));
  }

  function oxygen() {
    const left = oxygenLeft(episode);
    return left ? h("section", {}, h("h2", {}, "Oxygen"), h("p", {}, h("strong", {}, left))) : "";
  }

  function handed() {
    const last = (episode.handovers || []).filter((x) => !x.voided).pop();
    return last ? h("section", {}, h("h2", {}, "Handed over"), h("p", {}, `${clock.time(last.happened_s)} ` +
      `to ${last.team}, taken over by ${last.taken_by}`), way("close", "", "Close")) : "";
  }

  function drugs() {
    if (!episode.doses.length) return "";
    const rows = episode.doses.filter((d) => !d.voided).slice(-6).reverse().map((d) =>
      h("li", {}, h("strong", {}, d.name), ` ${d.dose_text || ""} ${d.route || ""} `,
        h("span", { class: "small" }, `${clock.time(d.happened_s)}, ${age(d.happened_s)}` +
          (d.checker ? `, checked by ${d.checker}` : "") + (d.refused ? ", refused" : ""))));
    return h("section", {}, h("h2", {}, "Drugs given"), h("ul", { class: "plain" }, ...rows));
  }

  function delivery() {
    const d = episode.delivery;
    const away = d.queued + d.on_air + d.heard;
    const newest = d.rows.slice(-4).reverse().map((r) => h("li", {}, `${r.kind}: `,
      h("strong", {}, { queued: "queued", on_air: "on air", heard: "heard by a relay",
        at_base: "at base", seen: `seen by ${r.seen_by}` }[r.state]),
      h("span", { class: "small" }, `, entered ${clock.time(r.entered_s)}`)));
    return h("section", {}, h("h2", {}, away === 0 ? "Base has everything"
      : `${away} ${away === 1 ? "entry is" : "entries are"} not at base yet`),
    view.self.radio_ready ? "" : h("p", {}, "The radio is not ready: entries are kept and sent later."),
    h("ul", { class: "plain" }, ...newest));
  }

  function answers() {
    if (!episode.answers.length) return "";
    const rows = episode.answers.slice(-5).reverse().map((a) => h("li", {},
      h("strong", {}, a.kind), a.eta_s ? ` ${clock.time(a.eta_s)}` : "",
      ` ${[a.whom, a.text].filter(Boolean).join(": ")} `,
      h("span", { class: "small" }, `${a.by}, ${age(a.recorded_s)}` +
        (a.kind === "seen" ? "" : a.read_back ? ", read back" : ", NOT read back"))));
    return h("section", {}, h("h2", {}, "From base"), h("ul", { class: "plain" }, ...rows));
  }

  function missing() {
    if (!episode.missing.length) return "";
    return h("section", {}, h("h2", {}, "Still missing"),
      h("ul", { class: "plain" }, ...episode.missing.map((m) => h("li", {}, panelFor(m)
        ? way(panelFor(m), "", `${m} - enter it`) : m))));
  }

  function switcher() {
    const others = view.episodes.filter((e) => !e.closed);
    if (others.length < 2) return "";
    const picker = choices("Which patient?", others.map((e) => [e.name, `${e.name} ${e.patient}`]),
      episode ? episode.name : "", (name) => {
        if (name) localStorage.setItem("ridgepost-episode", name);
        refresh();
      });
    return picker.element;
  }

  function render() {
    if (!view) return;
    const who = document.getElementById("who");
    who.textContent = `${view.self.name}${episode ? `: ${episode.patient}, ${episode.label}` : ""}`;
    const exercise = view.self.exercise || (episode && episode.exercise);
    document.getElementById("exercise").hidden = !exercise;
    if (open) return;
    const facts = !episode ? [] : [chamberClock(), signs(), delivery(), answers(), handed(),
      oxygen(), dueDrugs(), drugs(), missing()];
    repaint(board, [h("div", { class: "slot" }, entries.waitingBox()), nextCard(), pumpCard(), ...(episode
      ? [h("div", {}, acts(), switcher()), h("div", {}, ...facts)] : [switcher()])]);
    document.getElementById("name").textContent = entries.by() || "Your name?";
  }

  // --- panels ---

  const go = (name) => { location.hash = name; };
  const leave = () => { history.length > 1 ? history.back() : go(""); };

  let opener = ""; // the button that opened the panel: the focus goes back to it
  function openPanel(name) {
    const definition = panels[name];
    if (name === "" || (!definition && !special[name.split(":")[0]]) ||
      (!episode && name !== "open")) {
      closePanel();
      return;
    }
    if (!open) opener = name;
    open = { name };
    panelBox.replaceChildren();
    if (definition) buildEntry(definition);
    else special[name.split(":")[0]](name.split(":").slice(1).join(":"));
    board.hidden = true;
    panelBox.hidden = false;
    scrollTo(0, 0);
    const title = panelBox.querySelector("h1");
    if (title) {
      title.tabIndex = -1;
      title.focus({ preventScroll: true });
    }
  }

  function closePanel() {
    if (open) entries.left();
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
    const said = h("p", { role: "alert", class: "small" });
    let sent = false;
    const send = h("button", { type: "button", class: "act", onclick: () => {
      if (sent) return; // a double tap enters once
      const lines = built.words();
      const options = paper.options();
      const problem = [lines, options].find((answer) => typeof answer === "string");
      if (problem) {
        said.textContent = problem;
        said.scrollIntoView({ block: "center" });
        return;
      }
      sent = true;
      lines.forEach(([command, args]) => station.enter(command, args, options));
      leave();
    } }, "Record");
    panelBox.append(h("h1", {}, definition.title), ...built.body, paper.element, said, bar(send));
  }

  function bar(...buttons) {
    return h("div", { class: "bar" },
      h("button", { type: "button", onclick: leave }, "Back"), ...buttons);
  }

  const special = {
    alarms() {
      const todo = { obs: "observe", rebound: "observe", drug: "give", oxygen: "oxygen",
        hold: "chamber", session: "chamber", pressure: "chamber", pump: "pump", rotation: "pump" };
      panelBox.append(h("h1", {}, "Alarms"), ...episode.alarms.map((a) => h("div",
        { class: "alarm-row" }, h("span", { class: "badge" }, a.sounds ? a.sound.toUpperCase()
          : "quiet"), " ", h("strong", {}, a.reason),
        h("div", { class: "small" }, `since ${clock.time(a.since_s)}` +
          (a.value_s ? `, value ${age(a.value_s)}` : "") +
          (a.acknowledged ? `, acknowledged by ${a.by}` : a.snoozed ? `, silent until ` +
            `${clock.time(a.until_s)} by ${a.by}` : "")),
        h("p", {}, `Next: ${a.next}`),
        todo[a.rule] ? h("button", { type: "button", class: "act", onclick: () => {
          location.replace(`#${todo[a.rule]}`);
        } }, panels[todo[a.rule]] ? panels[todo[a.rule]].title : "Pump rhythm") : "",
        alarms.buttons(a, leave))), episode.alarms.length ? "" : h("p", {}, "No alarm stands."),
      bar());
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

  async function refresh() {
    try {
      const all = await station.get("/view");
      clock.set(all.data);
      pump.know(all.data.episodes);
      const opened = all.data.episodes.filter((e) => !e.closed);
      const name = (opened.find((e) => e.name === chosen()) || opened[opened.length - 1] || {}).name;
      const one = name ? await station.get(`/view?episode=${encodeURIComponent(name)}`) : null;
      view = all.data;
      episode = one ? one.data.episode : null;
      render();
      if (open && !panelBox.hasChildNodes()) openPanel(location.hash.slice(1));
    } catch {
      render();
    }
  }

  document.getElementById("light").addEventListener("click", nextLight);
  addEventListener("hashchange", () => openPanel(location.hash.slice(1)));
  station.on("view", refresh);
  station.on("waiting", render);
  station.on("line", entries.showLine);
  setInterval(() => {
    tick();
    if (held()) render();
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
