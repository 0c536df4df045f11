"use strict";
// What base does: answers alarms and requests by name, enters reports taken by voice, reads the log
// and the handover. Each opens under an address of its own, so that the back button leaves it.
const desk = (() => {
  // --- alarms ---

  function alarmRow(a, e, may) {
    return h("div", { class: `alarm sound-${a.sounds ? a.sound : "none"}` },
      h("div", {}, h("span", { class: "badge" }, a.sounds ? a.sound.toUpperCase() : "quiet"), " ",
        e.exercise ? h("span", { class: "badge" }, "EXERCISE") : "", " ",
        h("strong", {}, `${patient.title(e)}: ${a.reason}`), " ",
        h("span", { class: "small" }, ticking(() => `since ${clock.time(a.since_s)}` +
          (a.value_s ? `, value ${age(a.value_s)}` : ""))),
        h("div", {}, `Next: ${a.next}`),
        a.acknowledged ? h("div", { class: "small" }, `acknowledged by ${a.by}`)
          : a.snoozed ? h("div", { class: "small" }, `silent until ${clock.time(a.until_s)}, ` +
            `by ${a.by}`) : ""),
      may ? h("div", { class: "buttons" }, a.rule === "request" ? seenButton(e) : "",
        alarms.buttons(a)) : "");
  }

  // The least that ends the asking: somebody has seen it, by name.
  function seenButton(e) {
    const button = h("button", { type: "button", onclick: () => entries.named(() => {
      entries.once(button, station.enter("answer", [e.name, "seen"]));
    }) }, "Seen");
    if (e.request && e.request.unanswered) button.className = "first";
    button.dataset.keep = `answer-seen-${e.name}`;
    return button;
  }

  const SHOWN_MAX = 2; // the rest unfold: the patients must stay in sight
  let unfolded = false;

  function bell(view, may, again) {
    const all = view.episodes.flatMap((e) => e.alarms.filter((a) => a.sounds).map((a) => [a, e]));
    all.sort(([a], [b]) => alarms.presses(a, b));
    const shown = unfolded ? all : all.slice(0, SHOWN_MAX);
    const more = all.length - SHOWN_MAX;
    const fold = h("button", { type: "button", "aria-expanded": String(unfolded), onclick: () => {
      unfolded = !unfolded;
      again();
    } }, unfolded ? "Fewer" : `${more} more ${more === 1 ? "alarm sounds" : "alarms sound"}`);
    fold.dataset.keep = "bell-fold";
    const mute = h("button", { type: "button", class: "act", onclick: () => setTimeout(again, 100) },
      "The browser is silent: tap here to switch the sound on");
    mute.dataset.keep = "bell-sound";
    return { all, nodes: all.length === 0 ? [] : [sound.ready() ? "" : mute,
      ...shown.map(([a, e]) => alarmRow(a, e, may)), more > 0 ? fold : ""].filter(Boolean) };
  }

  // --- a form that enters: stays until it is known what became of the entry ---

  function form(e, title, body, words, options, leave) {
    // To the patient, not back to the menu the form was opened from.
    const done = () => location.replace(`#${e ? e.name : ""}`);
    const said = h("p", { role: "alert" });
    const send = h("button", { type: "submit", class: "act" }, "Record");
    let busy = false;
    const enter = async () => {
      const lines = words();
      if (typeof lines === "string") {
        said.textContent = lines;
        return;
      }
      const more = options ? options() : {};
      if (typeof more === "string") {
        said.textContent = more;
        return;
      }
      busy = true;
      send.disabled = true;
      said.textContent = "asking the station ...";
      for (const [command, args] of lines) {
        const key = station.enter(command, args, more);
        const became = await entries.settle(key);
        if (became && became !== "waits") {
          busy = false;
          send.disabled = false;
          refuse(said, key, became, done);
          return;
        }
      }
      entries.left();
      done();
    };
    return h("form", { class: "form", onsubmit: (event) => {
      event.preventDefault();
      if (!busy) entries.named(enter); // a double tap enters once
    } }, h("h2", {}, title), ...body, said,
    h("div", { class: "bar" }, h("button", { type: "button", onclick: leave }, "Back"), send));
  }

  // A refused entry goes back into the form, or is overruled.
  function refuse(said, key, problem, done) {
    const entry = station.waiting().find((e) => e.key === key);
    const ways = entry ? entries.overrule(key, entry, problem, done) : [];
    said.replaceChildren(problem.text);
    if (ways.length === 0) {
      station.remove(key);
      return;
    }
    said.append(" ", ...ways, " ", h("button", { type: "button", onclick: () => {
      station.remove(key);
      said.textContent = "";
    } }, "Change it"));
  }

  // --- answers to a request ---

  const answerKinds = [["seen", "Seen"], ["passed-on", "Passed on"], ["accepted", "Accepted"],
    ["eta", "ETA"], ["refused", "Refused"], ["plan", "Plan"], ["advice", "Advice"]];

  function answerButtons(e) {
    return h("div", { class: "buttons", role: "group", "aria-label": "Answer by name" },
      ...answerKinds.map(([kind, text]) => {
        if (kind === "seen") return seenButton(e);
        const button = h("a", { class: "button", href: `#${e.name}/answer/${kind}` }, text);
        button.dataset.keep = `answer-${kind}`;
        return button;
      }));
  }

  // Names that were used before, as buttons; else typed.
  function whom(e, name) {
    const before = [...new Set(e.answers.map((a) => a.whom).filter(Boolean))];
    const input = typed(name, { example: "Valley Air 3", value: before[before.length - 1] || "" });
    return input;
  }

  // "09:30Z", from a time or from buttons that count from now.
  function arrival() {
    const input = typed("Arrives, UTC with Z", { example: "09:30Z" });
    const field = input.element.querySelector("input");
    const later = (min) => h("button", { type: "button", onclick: () => {
      field.value = clock.time(clock.now_s() + min * 60).slice(-6);
    } }, min < 60 ? `in ${min} min` : `in ${min / 60} h`);
    return { get value() { return input.value; }, element: h("div", {}, input.element,
      h("div", { class: "buttons" }, later(30), later(60), later(120), later(180), later(300))) };
  }

  function answerForm(e, kind, leave) {
    const text = { refused: "Why", plan: "The plan", advice: "The advice" }[kind];
    const name = kind === "passed-on" ? whom(e, "To whom")
      : kind === "accepted" || kind === "eta" ? whom(e, "From whom") : null;
    const when = kind === "eta" ? arrival() : null;
    const what = typed(text || "Anything else (may stay empty)", { example: "" });
    const title = `${answerKinds.find(([k]) => k === kind)[1]}: ${patient.title(e)}`;
    const words = () => {
      const list = [e.name, kind];
      if (when) {
        if (!/^\d\d?:\d\dZ$/i.test(when.value)) return "Say when, as UTC: 09:30Z.";
        list.push("arrives", when.value);
      }
      if (name) {
        if (!name.value && kind !== "eta") return "Say whom.";
        if (name.value) list.push(kind === "passed-on" ? "to" : "from", name.value);
      }
      if (text && kind !== "refused" && !what.value) return "Type it first.";
      // One word alone would be read as a keyword.
      if (what.value) list.push(what.value.includes(" ") ? what.value : `${what.value} `);
      return [["answer", list]];
    };
    return form(e, title, [
      kind === "advice" || kind === "plan" ? h("p", {}, "Say whose advice it is. The treating " +
        "clinician on the spot decides; the camp reads it back.") : "",
      ...[when, name, what].filter(Boolean).map((c) => c.element)], words, null, leave);
  }

  // --- a report taken by voice ---

  const voicePanels = ["observe", "reassess", "chamber", "give", "oxygen", "descent", "evacuate",
    "background", "note", "correct"];

  function voiceMenu(e) {
    const link = (name) => h("a", { class: "button",
      href: `#${e ? e.name : ""}/voice/${name}` }, panels[name].title);
    return h("div", {}, h("h2", {}, "Report taken by voice"),
      h("p", {}, "It is recorded with the caller's name, as told by voice."),
      h("div", { class: "buttons" }, ...(e ? voicePanels.map(link) : []), link("open")));
  }

  const CALLER = "ridgepost-caller";
  function voiceForm(e, name, view, leave) {
    const definition = panels[name];
    const built = definition.build({ episode: e, view,
      open: (other) => { location.hash = `${e.name}/voice/${other}`; } });
    const caller = typed("Who called?", { example: "name", value: sessionStorage.getItem(CALLER) || "" });
    const ago = choices("When did it happen?", [["0", "Just now"], ["5", "5 min ago"],
      ["10", "10 min"], ["15", "15 min"], ["30", "30 min"], ["60", "1 hour ago"]], "0");
    const other = typed("Or how many minutes ago", { example: "25" });
    return form(e, `${definition.title}, by voice${e ? `: ${patient.title(e)}` : ""}`,
      [caller.element, ago.element, other.element, ...built.body], built.words, () => {
        const min = other.value ? Number(other.value) : Number(ago.value || 0);
        if (!caller.value) return "Say who called.";
        if (!Number.isInteger(min) || min < 0) return "Whole minutes: 25.";
        sessionStorage.setItem(CALLER, caller.value);
        return { via: "voice", by: caller.value, ago_min: min };
      }, leave);
  }

  // Who took over, and the end: entered at base under its own name.
  function endForm(e, name, view, leave) {
    const built = panels[name].build({ episode: e, view });
    return form(e, `${panels[name].title}: ${patient.title(e)}`, built.body, built.words, null, leave);
  }

  // --- log and handover ---

  async function log(root, name) {
    const where = name ? `of ${name}` : "of all patients";
    root.replaceChildren(h("h2", {}, `Log ${where}`), h("p", {}, "asking the station ..."));
    try {
      const reply = await station.get(name ? `/log?episode=${encodeURIComponent(name)}` : "/log");
      const rows = reply.data.records.slice(-300).reverse().map((r) => [r.record,
        `${clock.time(r.time_s)}${r.unsynced ? " (clock not synchronised)" : ""}`,
        `${r.exercise ? "EXERCISE " : ""}${r.episode}`, r.kind, r.summary, r.by || ""]);
      root.replaceChildren(h("h2", {}, `Log ${where}`),
        table("Records, newest first; nothing is ever taken out", ["Record", "Entered", "Patient",
          "Kind", "What", "By"], rows));
    } catch (problem) {
      root.replaceChildren(h("h2", {}, `Log ${where}`),
        h("p", { role: "alert" }, `The log cannot be shown now: ${problem.message}`));
    }
  }

  // In every form and language the station gives: read here, printed, or saved as a file.
  const RAW = "rows"; // for the program that draws pages
  const DRAWN = [["pdf", "Page (PDF)"], ["png", "Codes for a phone (PNG)"]];
  const SHOWN_MAX_BYTES = 60000; // more is for a file
  async function handover(root, e, view, which, lang) {
    const link = (form, code, text, purpose) => h("a", { class: "button", title: purpose || "",
      href: `#${e.name}/handover/${form}/${code}`,
      ...(form === which && code === lang ? { "aria-current": "true" } : {}) }, text);
    const group = (name, links) => h("div", { class: "buttons", role: "group", "aria-label": name },
      ...links);
    const forms = view.forms.filter((f) => f.form !== RAW);
    const linkForm = (f) => link(f.form, lang, f.form, f.purpose);
    const chosen = forms.find((f) => f.form === which);
    const text = h("pre", { class: "sheet", tabIndex: 0 }, "asking the station ...");
    const said = h("p", { class: "small", role: "status" });
    const show = async (numbered) => {
      const { text: made, data } = await sheets.whole(e, which, lang, numbered);
      text.textContent = made.length > SHOWN_MAX_BYTES
        ? `${made.slice(0, SHOWN_MAX_BYTES)}\n... the file holds all ${made.length} characters` : made;
      said.textContent = `As known now, ${clock.time(clock.now_s())}` +
        `${data.check ? `; check ${data.check}` : ""}.` + (!numbered && chosen && chosen.sheet
        ? " To be looked at: it gets a number of its own when it is printed or saved here." : "");
      return { made, data };
    };
    const draw = async (form) => {
      said.textContent = "The sheet is being drawn ...";
      try {
        const { blob, name } = await sheets.drawn(e, form, lang);
        sheets.save(blob, blob.type, name);
        said.textContent = `Saved as ${name}.`;
      } catch (problem) {
        said.textContent = `The sheet cannot be drawn now: ${problem.message}`;
      }
    };
    // What leaves the screen is made anew, with its own number.
    const take = (label, leave) => h("button", { type: "button", onclick: async () => {
      try {
        leave(await show(true));
      } catch (problem) {
        said.textContent = `The sheet cannot be made now: ${problem.message}`;
      }
    } }, label);
    root.replaceChildren(h("h2", {}, `Handover of ${patient.title(e)}`),
      group("To be read or printed", forms.filter((f) => f.sheet).map(linkForm)),
      group("Drawn, saved as a file", DRAWN.map(([form, label]) =>
        h("button", { type: "button", onclick: () => void draw(form) }, label))),
      group("For programs", forms.filter((f) => !f.sheet).map(linkForm)),
      chosen && chosen.sheet ? group("Language", view.languages.map((l) =>
        link(which, l.code, l.name))) : "",
      h("p", {}, (chosen ? chosen.purpose : "") + (lang === "en" ? ""
        : "; the translation is not reviewed")), h("div", { class: "buttons" },
        take("Print", () => print()), take("Save as a file", ({ made, data }) => sheets.save(made,
          data.type, `${e.exercise ? "EXERCISE-" : ""}${e.name}-${which}.${data.suffix}`))),
      said, text);
    try {
      await show(false);
    } catch (problem) {
      text.textContent = `The sheet cannot be made now: ${problem.message}`;
    }
  }

  return { bell, alarmRow, answerButtons, answerForm, voiceMenu, voiceForm, endForm, log, handover };
})();
