"use strict";
// What base does: answers alarms and requests by name, enters reports taken by voice, reads the log
// and the handover. Each opens under an address of its own, so that the back button leaves it.
const desk = (() => {
  const SAID_MS = 5000;
  let saying = 0;
  // What became of a tap, for some seconds, over nothing that can be tapped.
  function say(text) {
    const said = document.getElementById("said");
    said.textContent = text;
    clearTimeout(saying);
    saying = setTimeout(() => { said.textContent = ""; }, SAID_MS);
  }

  // --- alarms ---

  function alarmRow(a, e, may) {
    return h("div", { "data-keep": `alarm-${a.episode}-${a.rule}-${a.about || ""}`, class: `alarm sound-${a.sounds ? a.sound : "none"}` },
      h("div", {}, h("span", { class: "badge" }, alarms.word(a)), " ",
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

  // The least that ends the asking: somebody has seen it, by name. Another request has a button of
  // its own.
  function seenButton(e) {
    const button = h("button", { type: "button", onclick: () => entries.named(() => {
      entries.once(button, station.enter("answer", [e.name, "seen"]));
      say(`Seen: ${patient.title(e)}`);
    }) }, "Seen");
    if (e.request && e.request.unanswered) button.className = "first";
    button.dataset.keep = `answer-seen-${e.name}-${e.request ? e.request.record : ""}`;
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
    return { all, nodes: all.length === 0 ? [] : [
      ...shown.map(([a, e]) => alarmRow(a, e, may)), more > 0 ? fold : ""].filter(Boolean) };
  }

  // Each alarm stands once: above while it sounds, with its patient once somebody has answered it.
  function alarmBox(e, may, again) {
    const quiet = e.alarms.filter((a) => !a.sounds);
    const sounding = e.alarms.length - quiet.length;
    const up = h("a", { class: "button", href: `#${e.name}`, onclick: () => {
      unfolded = true;
      again();
      scrollTo(0, 0);
    } }, "Show above");
    up.dataset.keep = "alarms-above";
    return e.alarms.length === 0 ? "" : h("section", { class: "box", id: "box-alarms" },
      h("h3", {}, "Alarms"), sounding ? h("p", {}, h("strong", {}, `${sounding} ` +
        `${sounding === 1 ? "alarm sounds" : "alarms sound"}: see above. `), up) : "",
      ...quiet.map((a) => alarmRow(a, e, may)));
  }

  // --- a form that enters: stays until it is known what became of the entry ---

  function form(e, title, body, words, options, leave) {
    // To the patient, not back to the menu the form was opened from.
    const done = () => location.replace(`#${e ? e.name : ""}`);
    const said = h("div", { role: "alert" });
    const send = entries.sender(said, done);
    const of = e ? { patient: e.patient, people: peopleOf(e) } : {};
    const enter = () => {
      const lines = words();
      const more = options ? options() : {};
      const problem = [lines, more].find((answer) => typeof answer === "string");
      if (problem) said.textContent = problem;
      else void send(lines, { ...more, ...of });
    };
    return h("form", { class: "form", onsubmit: (event) => {
      event.preventDefault();
      entries.named(enter);
    } }, h("h2", {}, title), ...body, said,
    h("div", { class: "bar" }, h("button", { type: "button", onclick: leave }, "Back"),
      h("button", { type: "submit", class: "act" }, "Record")));
  }

  // --- answers to a request ---

  const answerKinds = [["seen", "Seen"], ["passed-on", "Passed on"], ["accepted", "Accepted"],
    ["eta", "Expected"], ["refused", "Refused"], ["plan", "Plan"], ["advice", "Advice"]];

  // What answers a request, where there is one; "seen" only until something was answered, since the
  // newest answer is how it stands.
  function answerButtons(e) {
    const asked = e.request && e.evacuation !== "handed over";
    const fits = ([kind]) => kind === "advice" || (asked && (kind !== "seen" || e.request.unanswered));
    return h("div", { class: "buttons", role: "group", "aria-label": "Answer by name" },
      ...answerKinds.filter(fits).map(([kind, text]) => {
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
    const input = typed("Expected at, UTC with Z", { example: "09:30Z" });
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

  // Newest first over all stations, in parts. The net's own bookkeeping only when it is asked for.
  const LOG_PART = 300;
  const BOOKKEEPING = ["receipt", "station card"];
  async function log(root, name) {
    const title = h("h2", {}, `Log ${name ? `of ${name}` : "of all patients"}`);
    const records = new Map(); // by name: what came in meanwhile moves the parts
    let all = false;
    let older = 0;
    const paint = () => {
      const sorted = [...records.values()].sort((a, b) => b.time_s - a.time_s || b.origin - a.origin ||
        b.seq - a.seq);
      const shown = sorted.filter((r) => all || !BOOKKEEPING.includes(r.kind));
      const rows = shown.map((r) => [r.record,
        `${clock.time(r.time_s)}${r.unsynced ? " (clock not synchronised)" : ""}`,
        `${r.exercise ? "EXERCISE " : ""}${r.episode}`, r.kind, r.summary, r.by || ""]);
      root.replaceChildren(title, h("div", { class: "buttons" }, h("button", { type: "button",
        "aria-pressed": String(all), onclick: () => {
          all = !all;
          paint();
          root.querySelector("button").focus();
        } }, "Receipts and station cards too")),
      h("div", { class: "stacked" }, table("Records, newest first; nothing is ever taken out",
        ["Record", "Entered", "Patient", "Kind", "What", "By"], rows)),
      older ? h("p", {}, h("strong", {}, `${older} older records are not shown. `),
        h("button", { type: "button", onclick: more }, "Show older ones")) : "");
    };
    async function more() {
      try {
        const { data } = await station.get(`/log?newest=${LOG_PART}&skip=${records.size}` +
          (name ? `&episode=${encodeURIComponent(name)}` : ""));
        data.records.forEach((r) => records.set(`${r.origin}:${r.seq}`, r));
        older = Math.max(0, data.total - records.size);
        paint();
      } catch (problem) {
        root.replaceChildren(title, h("p", { role: "alert" },
          `The log cannot be shown now: ${problem.message}`));
      }
    }
    root.replaceChildren(title, h("p", {}, "asking the station ..."));
    await more();
  }

  // In every form and language the station gives: read here, printed, or saved as a file.
  const RAW = "rows"; // for the program that draws pages
  const DRAWN = [["pdf", "Page (PDF)"], ["png", "Codes for a phone (PNG)"]];
  const SHOWN_MAX_BYTES = 60000; // more is for a file
  async function handover(root, e, view, which, lang) {
    const link = (form, code, text) => h("a", { class: "button",
      href: `#${e.name}/handover/${form}/${code}`,
      ...(form === which && code === lang ? { "aria-current": "true" } : {}) }, text);
    const group = (name, links) => h("div", { class: "buttons", role: "group", "aria-label": name },
      ...links);
    const forms = view.forms.filter((f) => f.form !== RAW);
    const linkForm = (f) => link(f.form, lang, f.purpose[0].toUpperCase() + f.purpose.slice(1));
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
      lang === "en" ? "" : h("p", {}, "The translation is not reviewed."), h("div", { class: "buttons" },
        take("Print", () => print()), take("Save as a file", ({ made, data }) => sheets.save(made,
          data.type, `${e.exercise ? "EXERCISE-" : ""}${e.name}-${which}.${data.suffix}`))),
      said, text);
    try {
      await show(false);
    } catch (problem) {
      text.textContent = `The sheet cannot be made now: ${problem.message}`;
    }
  }

  return { say, bell, alarmBox, answerButtons, answerForm, voiceMenu, voiceForm, endForm, log, handover };
})();
