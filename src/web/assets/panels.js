"use strict";
// The panels of both pages: each builds its controls and says which words it would send. On the
// bedside page they are in the address (#observe), so that the browser's back button leaves them.
//
// A panel is { title, build(context) -> {body, words} }; words() gives the lines to enter, each
// [command, [words...]], or a string that says what is missing. context: the episode, the view, and
// open(panel), which goes to another one.

const modes = [["air", "On air"], ["oxygen", "On oxygen"], ["chamber", "In chamber"],
  ["chamber+oxygen", "Chamber + oxygen"]];
const levels = [["alert", "Alert"], ["confused", "Confused"], ["voice", "Answers voice"],
  ["pain", "Answers pain"], ["unresponsive", "No answer"]];
const airways = [["clear", "Clear"], ["at-risk", "At risk"], ["noisy", "Noisy"],
  ["blocked", "Blocked"], ["device", "Device"]];
const conditions = [["better", "Better"], ["same", "Same"], ["worse", "Worse"],
  ["critical", "Critical"]];

const grades = [["0", "0"], ["1", "1"], ["2", "2"], ["3", "3"]];
const ataxias = [...grades, ["4", "4"]];
// The four items of the Lake Louise score 2018, each 0 (none) to 3 (severe).
const items = [["Headache, 0 to 3"], ["Nausea or vomiting, 0 to 3"], ["Tired or weak, 0 to 3"],
  ["Dizzy, 0 to 3"]];

function modeNow(episode) {
  const inside = episode.course.inside;
  const last = episode.oxygen[episode.oxygen.length - 1];
  const oxygen = last && last.action !== "stop";
  return inside ? (oxygen ? "chamber+oxygen" : "chamber") : oxygen ? "oxygen" : "air";
}

// "" when it is not known.
function oxygenLeft(episode) {
  const until_s = episode.assessed.oxygen_until_s;
  if (!until_s) return "";
  return until_s > clock.now_s() ? `Oxygen lasts until ${clock.time(until_s)}, ` +
    `${span(until_s - clock.now_s())}, at this flow` : `OXYGEN WAS TO LAST UNTIL ${clock.time(until_s)}`;
}

// The session as it runs on, from the station's clock of when `episode` was shown; "" outside.
function sessionClock(episode) {
  const { inside, phase, phase_since_s: since_s, session, session_left_s: left_s } = episode.course;
  const shown_s = station.viewed_s();
  const counts = phase === "at pressure" || phase === "hold";
  return !inside ? "" : h("p", { class: "session" }, ticking(() => {
    const now_left_s = left_s - (counts ? clock.now_s() - shown_s : 0);
    return `Session ${session}: ${phase} for ${running(clock.now_s() - since_s)}; ` +
      (now_left_s > 0 ? `${span(now_left_s)} of the session left` : "THE SESSION'S TIME IS OVER");
  }));
}

// What a record says, in a few words.
function gist(row) {
  const signs = [["spo2_pct", "SpO2"], ["pulse_bpm", "pulse"], ["resp_rpm", "breaths"],
    ["systolic_mmhg", "BP"], ["acvpu", ""], ["mode", ""]];
  const measured = "taken_s" in row ? signs.filter(([key]) => row[key] !== undefined)
    .map(([key, name]) => `${name} ${row[key]}`.trim()) : [];
  const asked = row.urgency ? `${row.urgency.toUpperCase()}${row.revises ? ", revised" : ""}` : "";
  const drunk = [["drunk_ml", "drunk"], ["urine_ml", "urine"]].filter(([key]) => row[key] !== undefined)
    .map(([key, name]) => `${name} ${row[key]} mL`);
  const words = [row.condition, ...measured, ...drunk, asked, row.name, row.dose_text, row.action,
    row.phase, row.why_not, row.next && `next: ${row.next}`, row.team, row.text]
    .filter(Boolean).join(", ");
  return words.length > 60 ? `${words.slice(0, 60)} ...` : words;
}

// What can be corrected, newest first: [record, what it says]. A report is one entry, with what it
// measured; two that read the same are told apart by their seconds.
function correctable(episode) {
  const measured = new Map(episode.observations.map((row) => [row.record, row]));
  const reports = episode.reports.map((row) => ({ ...measured.get(row.record), ...row }));
  const told = new Set(reports.map((row) => row.record));
  const older = [...measured.values()].filter((row) => !told.has(row.record));
  const rows = [[[...reports, ...older], "report"], [episode.doses, "drug"], [episode.oxygen, "oxygen"],
    [episode.chamber_events, "chamber"], [episode.notes, "note"], [episode.descent, "going down?"],
    [episode.reassessments, "reassessed"], [episode.requests, "evacuation"],
    [episode.fluids, "drunk and passed"], [episode.handovers, "taken over"]]
    .flatMap(([list, word]) => list.filter((row) => !row.voided).map((row) => [row, word]))
    .sort(([a], [b]) => b.recorded_s - a.recorded_s).slice(0, 12);
  const say = ([row, word]) => `${clock.time(row.happened_s)} ${word}: ${gist(row)} (${row.by || "no name"})`;
  const seconds = (row) => ` entered ${new Date((row.recorded_s + clock.epoch_s()) * 1000).toISOString()
    .slice(11, 19)}Z`;
  const texts = rows.map(say);
  return rows.map(([row], i) => [row.record, texts[i] +
    (texts.filter((text) => text === texts[i]).length > 1 ? seconds(row) : "")]);
}

const whyNot = [["dark", "Dark"], ["weather", "Weather"], ["terrain", "Terrain"],
  ["carriers", "No carriers"], ["condition", "Patient cannot"], ["other", "Other reason"]];

const panels = {
  observe: {
    title: "Observations",
    build({ episode }) {
      const last = episode.signs;
      const mode = choices("How were they measured?", modes, modeNow(episode));
      const level = choices("Conscious level", levels);
      const airway = choices("Airway", airways);
      const condition = choices("Compared with before", conditions);
      const spo2 = stepper("SpO2 %", { from: 75, min: 30, max: 100, unit: "%", last: last.spo2_pct });
      const pulse = stepper("Pulse per minute", { from: 100, min: 20, max: 250, step: 2,
        last: last.pulse_bpm });
      const resp = stepper("Breaths per minute", { from: 20, min: 2, max: 70, last: last.resp_rpm });
      const temp = stepper("Temperature \u00b0C, oral", { from: 365, min: 250, max: 430,
        last: last.temp_dc, show: (v) => (v / 10).toFixed(1) });
      const upper = stepper("Blood pressure, upper, mmHg", { from: 120, min: 40, max: 300, step: 2,
        last: last.systolic_mmhg });
      const lower = stepper("Blood pressure, lower, mmHg", { from: 80, min: 20, max: 200, step: 2,
        last: last.diastolic_mmhg });
      const pain = stepper("Pain, 0 none to 10 worst", { from: 3, min: 0, max: 10, last: last.pain,
        unset: "not said" });
      const ataxia = choices("Ataxia, heel to toe", ataxias);
      const score = items.map(([name]) => choices(name, grades));
      score.concat(ataxia).forEach((c) => c.element.classList.add("fifths"));
      airway.element.classList.add("thirds");
      const more = folded("Airway, blood pressure, pain, ataxia, Lake Louise score", airway, upper,
        lower, pain, ataxia, ...score);
      const unable = several("Tried and not possible", [["spo2", "SpO2"], ["pulse", "Pulse"],
        ["resp", "Breaths"]]);
      unable.element.classList.add("thirds");
      const drunk = stepper("Drunk, mL", { from: 250, min: 0, max: 5000, step: 50, unit: "mL", unset: "not said" });
      const urine = stepper("Urine, mL", { from: 200, min: 0, max: 3000, step: 50, unit: "mL", unset: "not said" });
      const over = stepper("Over how many hours", { from: 4, min: 1, max: 24, unit: "h", unset: "not said" });
      const fluids = folded("Drunk and passed", drunk, urine, over);
      const all = [condition, level, mode, spo2, pulse, resp, temp, more, fluids, unable];
      numbered([condition, "observations.CONDITION"],
        [level, "observations.LEVEL", "chamber.LEVEL"], [mode, "observations.MODE"],
        [spo2, "observations.SPO2", "chamber.SPO2"],
        [pulse, "observations.PULSE", "chamber.PULSE_SHORT"],
        [resp, "observations.RESP", "chamber.RESP_SHORT"], [temp, "observations.TEMP"],
        [upper, "observations.BP"], [lower, "observations.BP"], [ataxia, "observations.ATAXIA"],
        [pain, "observations.PAIN"],
        [score[0], "observations.LLS"], [airway, "handover.AIRWAY"], [drunk, "observations.DRUNK"],
        [urine, "observations.URINE"], [over, "observations.OVER"]);
      return {
        body: all.map((c) => c.element),
        words() {
          const words = [];
          if (condition.value) words.push(condition.value);
          if (level.value) words.push(level.value);
          if (airway.value) words.push("airway", airway.value);
          if (spo2.value !== null) words.push("spo2", spo2.value);
          if (pulse.value !== null) words.push("pulse", pulse.value);
          if (resp.value !== null) words.push("resp", resp.value);
          if (temp.value !== null) words.push("temp", (temp.value / 10).toFixed(1), "oral");
          if (upper.value !== null && lower.value !== null) {
            words.push("bp", `${upper.value}/${lower.value}`);
          } else if (upper.value !== null || lower.value !== null) {
            return amiss(upper.value === null ? upper : lower,
              "Blood pressure: both numbers, or neither.");
          }
          if (pain.value !== null) words.push("pain-score", pain.value);
          if (ataxia.value) words.push("ataxia", ataxia.value);
          const scored = score.filter((c) => c.value).length;
          if (scored === 4) words.push("lls", score.reduce((sum, c) => sum + Number(c.value), 0));
          else if (scored > 0) {
            return amiss(score.find((c) => !c.value), "Lake Louise score: all four answers, or none.");
          }
          const tried = unable.value ? unable.value.split(",") : [];
          const both = { spo2, pulse, resp };
          if (tried.some((sign) => both[sign].value !== null)) {
            return amiss(unable, "A sign cannot be measured and not possible at once.");
          }
          tried.forEach((sign) => words.push(sign, "unable"));
          const passed = [];
          if (drunk.value !== null) passed.push("fluid", `${drunk.value}mL`);
          if (urine.value !== null) passed.push("urine", `${urine.value}mL`);
          if (urine.value !== null && over.value === null) {
            return amiss(over, "Urine: over how many hours?");
          }
          if (passed.length && over.value !== null) passed.push("over", `${over.value}h`);
          const lines = passed.length ? [["fluids", [episode.name, ...passed]]] : [];
          if (words.length === 0 && passed.length) return lines;
          if (words.length === 0) return "Choose or measure something first.";
          if (spo2.value !== null || pulse.value !== null || resp.value !== null) {
            if (!mode.value) {
              return amiss(mode, "Say how they were measured: on air, oxygen or in the chamber.");
            }
            words.push(mode.value);
          }
          return [["report", [episode.name, ...words]], ...lines];
        },
      };
    },
  },
  chamber: {
    title: "Chamber",
    build({ episode }) {
      const { phase, inside } = episode.course;
      const following = { "closed": "pressurise", "pressurising": "at", "at pressure": "deflate",
        "hold": "resume", "deflating": "out" }[phase] || "close";
      const events = [["close", "Closed"], ["pressurise", "Pressurising"], ["at", "At pressure"],
        ["hold", "Hold"], ["resume", "Pressure again"], ["deflate", "Deflating"],
        ["out", "Out of the chamber"]];
      const event = choices("What happens now?", events, following);
      const reason = choices("A hold, because of", [["ears", "Ears"], ["vomit", "Vomiting"],
        ["panic", "Panic"], ["pain", "Pain"], ["pump", "Pump"], ["other", "Other"]],
      "", (word) => { if (word) event.set("hold"); });
      foldAway(event, "Something else happens", events.map(([word]) => word)
        .filter((word) => word !== following), reason.element);
      event.element.classList.add("one");
      const gauge = stepper("Gauge pressure, hPa", { from: 138, min: 0, max: 300, step: 2,
        unit: "hPa" });
      const altimeter = stepper("Altimeter inside, m", { from: 3000, min: -400, max: 8900, step: 50,
        unit: "m" });
      const why = choices("Before each session: why not down now?", whyNot);
      numbered([event, "chamber.CLOSED", "chamber.PRESSURISING", "chamber.AT_PRESSURE",
        "chamber.DEFLATING", "chamber.OUT"],
        [reason, "chamber.HOLD"], [gauge, "chamber.GAUGE"],
        [altimeter, "chamber.ALTIMETER_IN", "chamber.ALTIMETER"], [why, "chamber.WHY_NOT"]);
      return {
        body: [h("p", {}, "A chamber buys time. Descent is the treatment."), sessionClock(episode),
          inside ? "" : why.element, event.element, gauge.element, altimeter.element].filter(Boolean),
        words() {
          const lines = [];
          if (!event.value) return amiss(event, "Choose what happens now.");
          if (!inside && why.value) lines.push(["descent", [episode.name, "no", why.value]]);
          if (!inside && !why.value && event.value === "close") {
            return amiss(why, "Answer first: why not down now?");
          }
          const words = [event.value];
          if (event.value === "hold" && reason.value) words.push(reason.value);
          if (gauge.value !== null) words.push(`${gauge.value}hPa`);
          if (altimeter.value !== null) words.push("altimeter", `${altimeter.value}m`);
          lines.push(["chamber", [episode.name, ...words]]);
          return lines;
        },
      };
    },
  },
  give: {
    title: "Drug given",
    build({ episode, view }) {
      const allergies = h("p", {}, "Allergies: ", h("strong", {}, episode.background.allergies));
      const given = episode.doses.filter((d) => !d.voided && !d.refused);
      const listed = [...new Set([...given.map((d) => d.name), ...(view.drugs || [])])];
      const before = h("p", { role: "status" });
      const tell = () => {
        const is = (drug) => drug.toLowerCase() === (other.value || name.value).toLowerCase();
        const last = given.filter((d) => is(d.name)).pop();
        const due = episode.drugs_due.find((d) => is(d.drug));
        before.textContent = !last ? "" : `Last given ${clock.time(last.happened_s)}, ` +
          `${age(last.happened_s)}: ${last.dose_text || "dose not told"} ${last.route || ""}` +
          (due ? `; interval over ${clock.time(due.due_s)}` : "");
      };
      const name = choices("Which drug?", listed.slice(0, 12).map((n) => [n, n]), "", tell);
      name.element.classList.add("names");
      const other = typed(listed.length ? "Or another drug" : "Which drug?", { example: "name" });
      other.element.addEventListener("input", tell);
      const dose = keypad("Dose", ["mg", "g", "mcg", "mL", "tablet", "puff"], "mg");
      const route = choices("How?", [["oral", "By mouth"], ["im", "Into muscle (IM)"],
        ["iv", "Into vein (IV)"], ["sc", "Under skin (SC)"], ["sl", "Under the tongue"],
        ["inhaled", "Inhaled"], ["nasal", "Into the nose"], ["pr", "Rectal"],
        ["topical", "On the skin"]]);
      foldAway(route, "Another way", ["nasal", "pr", "topical"]);
      const checked = person("Who else checked drug and dose?", peopleOf(episode));
      numbered([name, "observations.DRUG"], [other, "observations.DRUG"],
        [dose, "observations.DOSE"], [route, "observations.ROUTE"],
        [checked, "observations.CHECKED"]);
      return {
        body: [h("p", {}, "Recorded as given. Follow your protocol and the treating clinician."),
          allergies, listed.length ? name.element : "", other.element, before, dose.element,
          route.element, checked.element],
        words() {
          const drug = other.value || name.value;
          const wrong = twice(name, other) || checked.wrong();
          if (wrong) return wrong;
          if (!drug) return amiss(listed.length ? name : other, "Choose or type the drug.");
          if (!dose.value) return amiss(dose, "Tap the dose and its unit.");
          if (!route.value) return amiss(route, "How was it given?");
          const words = [episode.name, drug, dose.value, route.value];
          if (checked.value) words.push("checked", checked.value);
          return [["give", words]];
        },
      };
    },
  },
  oxygen: {
    title: "Oxygen",
    build({ episode }) {
      const last = episode.oxygen[episode.oxygen.length - 1];
      const action = choices("What happens?", [["start", "Start"], ["change", "Change flow"],
        ["reading", "Gauge reading"], ["stop", "Stop"]], last && last.action !== "stop" ? "reading"
        : "start");
      const device = choices("By", [["prongs", "Nasal prongs"], ["mask", "Mask"],
        ["reservoir", "Reservoir mask"]], last ? last.device : "");
      const flow = stepper("Flow, L/min", { from: 20, min: 5, max: 250, step: 5,
        show: (v) => (v / 10).toFixed(1), unset: "not said" });
      const known = [...new Set([...episode.oxygen.map((o) => o.cylinder), "A", "B", "C"])]
        .filter(Boolean).slice(0, 6);
      const cylinder = choices("Cylinder", known.map((c) => [c, c]), last ? last.cylinder : "");
      cylinder.element.classList.add("thirds");
      const water = choices("How large is it? (water volume, stamped on it)", [["2L", "2 L"],
        ["3L", "3 L"], ["4L", "4 L"], ["5L", "5 L"], ["7L", "7 L"], ["10L", "10 L"]]);
      water.element.classList.add("thirds");
      const bar = stepper("Cylinder pressure, bar", { from: 150, min: 0, max: 300, step: 5 });
      numbered([action, "observations.O2_ACTION"], [device, "observations.O2_DEVICE"],
        [flow, "observations.FLOW"], [cylinder, "observations.CYLINDER"],
        [bar, "observations.BAR"]);
      return {
        body: [h("p", {}, oxygenLeft(episode) || "How long it lasts is told once flow, " +
          "cylinder pressure and cylinder size are known."),
        ...[action, device, flow, cylinder, bar, water].map((c) => c.element)],
        words() {
          if (!action.value) return amiss(action, "Choose what happens.");
          const words = [episode.name, action.value];
          if (device.value && action.value !== "stop") words.push(device.value);
          if (flow.value !== null && action.value !== "stop") {
            words.push(`${(flow.value / 10).toFixed(1)}L/min`);
          }
          if (cylinder.value) words.push("cylinder", cylinder.value);
          if (bar.value !== null) words.push(`${bar.value}bar`);
          if (water.value) words.push("water", water.value);
          return [["oxygen", words]];
        },
      };
    },
  },
  evacuate: evacuation,
  cancel: {
    title: "Cancel the request",
    build({ episode }) {
      const reason = choices("Why?", [["walking down", "Walking down"], ["carried down",
        "Carried down"], ["taken by others", "Taken by others"], ["recovered", "Recovered"]]);
      const other = typed("Or another reason", { example: "weather closed in" });
      return {
        body: [h("p", {}, "A crew may be on its way: it is sent at once, before everything else."),
          reason.element, other.element],
        words() {
          const why = other.value || reason.value;
          return twice(reason, other) || (why ? [["evacuate", [episode.name, "cancel", why]]]
            : amiss(reason, "Say why."));
        },
      };
    },
  },
  reassess: {
    title: "Reassess",
    build({ episode }) {
      const condition = choices("Compared with before", conditions.filter(([w]) => w !== "critical"));
      const next = choices("What is next?", [["session", "Another session"], ["descend", "Go down"],
        ["evacuate", "Evacuation"], ["watch", "Watch"]]);
      const ataxia = choices("Ataxia, heel to toe: 0 none to 4 cannot stand", ataxias);
      ataxia.element.classList.add("fifths");
      const walks = choices("Walks alone?", [["yes", "Yes"], ["no", "No"]]);
      const mental = choices("Is the mind changed?", [["yes", "Yes"], ["no", "No"]]);
      const all = [condition, next, ataxia, walks, mental];
      numbered([condition, "chamber.COMPARED"], [next, "chamber.NEXT"],
        [ataxia, "chamber.ATAXIA"], [walks, "chamber.WALKS"], [mental, "chamber.MENTAL"]);
      return {
        body: all.map((c) => c.element),
        words() {
          if (!condition.value) return amiss(condition, "Better, same or worse?");
          const words = [episode.name, condition.value];
          if (next.value) words.push("next", next.value);
          if (ataxia.value) words.push("ataxia", ataxia.value);
          if (walks.value) words.push("walks", walks.value);
          if (mental.value) words.push("mental", mental.value);
          return [["reassess", words]];
        },
      };
    },
  },
  descent: {
    title: "Going down?",
    build({ episode }) {
      const answer = choices("Can the patient go down now?", [["yes", "Going down now"], ...whyNot]);
      numbered([answer, "chamber.WHY_NOT"]);
      return {
        body: [h("p", {}, "Descent is the treatment. If not now: why not? It is asked again before " +
          "every chamber session."), answer.element],
        words() {
          if (!answer.value) return amiss(answer, "Choose one.");
          return [["descent", answer.value === "yes" ? [episode.name, "yes"]
            : [episode.name, "no", answer.value]]];
        },
      };
    },
  },
  // Nothing is taken out: a correction stands beside what was wrong.
  correct: {
    title: "Correct an entry",
    build({ episode }) {
      const which = choices("Which entry was wrong? Newest first", correctable(episode));
      which.element.classList.add("wholes");
      const reason = choices("Why?", [["wrong value", "Wrong value"], ["wrong patient",
        "Wrong patient"], ["not done", "Was not done"], ["entered twice", "Entered twice"]]);
      const other = typed("Or another reason", { example: "read from the wrong finger" });
      return {
        body: [h("p", {}, "The wrong entry stays in the log, marked; enter the right one anew."),
          which.element, reason.element, other.element],
        words() {
          const why = other.value || reason.value;
          if (!which.value) return amiss(which, "Choose the entry.");
          return twice(reason, other) || (why ? [["correct", [which.value, "void", why]]]
            : amiss(reason, "Say why."));
        },
      };
    },
  },
  open: {
    title: "New patient",
    build({ view }) {
      const used = view.episodes.filter((e) => !e.closed).map((e) => e.patient.trim().toUpperCase());
      const free = [..."ABCDEFGHIJKLMNOPQRSTUVWXYZ"].find((letter) => !used.includes(letter)) || "";
      const label = several("Working label, one or more", [["ams", "AMS"], ["hace", "HACE"],
        ["hape", "HAPE"], ["other", "Other"]]);
      const found = several("What was found?", [["ataxia", "Ataxia"], ["mental", "Mind changed"],
        ["breathless", "Breathless at rest"], ["cough", "Cough"], ["crackles", "Crackles"],
        ["cyanosis", "Blue lips"]]);
      const what = typed("If other: what", { example: "chest infection" });
      const patient = typed("Patient (a name only if chosen, else a letter)", { value: free });
      const sex = choices("Sex", [["f", "Female"], ["m", "Male"]]);
      const years = stepper("Age, years", { from: 35, min: 0, max: 110, unset: "not said" });
      const none = choices("Allergies", [["none", "Asked: none"], ["", "Not asked yet"]], "");
      const allergies = typed("Or which", { example: "penicillin: rash" });
      numbered([label, "handover.SUSPECTED"], [found, "handover.FOUND"],
        [patient, "observations.PATIENT"], [sex, "handover.AGE"], [years, "handover.AGE"],
        [none, "observations.ALLERGIES"], [allergies, "observations.ALLERGIES"]);
      return {
        body: [label, found, patient, sex, years, none, allergies, what].map((c) => c.element),
        words() {
          if (!label.value) return amiss(label, "Choose a working label.");
          if (!patient.value) return amiss(patient, "Type a name or a letter.");
          if (used.includes(patient.value.toUpperCase())) {
            return amiss(patient, `Another patient in care is called ${patient.value}: choose another.`);
          }
          const labels = label.value.split(",");
          if (labels.includes("other") && !what.value) return amiss(what, "Other: type what.");
          const wrong = twice(none, allergies);
          if (wrong) return wrong;
          const words = labels.flatMap((word) => (word === "other" ? [word, what.value] : [word]));
          words.push("patient", patient.value);
          if (sex.value) words.push("sex", sex.value);
          if (years.value !== null) words.push("age", years.value);
          if (found.value) words.push("yes", found.value);
          if (allergies.value || none.value) words.push("allergies", allergies.value || none.value);
          return [["open", words]];
        },
      };
    },
  },
  // What was not asked at the opening, asked later; nothing is filled in beforehand.
  background: {
    title: "Background",
    build({ episode }) {
      const asks = [["allergies", "Allergies", "penicillin: rash", "handover.ALLERGIES_A"],
        ["medicines", "Own medicines", "ibuprofen 400 mg, 05:00Z", "handover.MEDICINES"],
        ["history", "History", "asthma", "handover.HISTORY"],
        ["last_meal", "Last meal", "soup 16:00Z"], ["contact", "Whom to tell", "sister, +00 555 0101"]]
        .map(([key, name, example, paper]) => {
          const picked = choices(name, [...(key === "contact" ? [] : [["none", "Asked: none"]]),
            ["asked, not known", "Asked: not known"]]);
          const input = typed(`${name}: which`, { example });
          const known = episode.background[key];
          if (paper) numbered([picked, paper]);
          return { key, picked, input, element: h("div", {}, picked.element,
            known === "not asked" ? "" : h("p", { class: "small" }, `recorded so far: ${known}`),
            input.element) };
        });
      return {
        body: asks.map((ask) => ask.element),
        words() {
          const wrong = asks.map(({ picked, input }) => twice(picked, input)).find(Boolean);
          const words = asks.flatMap(({ key, picked, input }) => (picked.value || input.value
            ? [key === "last_meal" ? "meal" : key, input.value || picked.value] : []));
          return wrong || (words.length ? [["background", [episode.name, ...words]]]
            : amiss(asks[0], "Choose or type something first."));
        },
      };
    },
  },
  note: {
    title: "Note",
    build({ episode }) {
      const text = typed("What should be written down?", { example: "vomited once" });
      numbered([text, "chamber.REMARK"]);
      return {
        body: [text.element],
        words: () => (text.value ? [["note", [episode.name, text.value]]]
          : amiss(text, "Type the note first.")),
      };
    },
  },
  taken: {
    title: "Taken over",
    build({ episode }) {
      const team = typed("Which team takes the patient?", { example: "Valley Air 3" });
      const person = typed("Who of it takes over?", { example: "name" });
      const sheet = typed("Sheet handed over: number and check, on its first line", { example: "2 K7QP",
        value: sheets.given(episode) });
      numbered([team, "handover.TEAM"], [person, "handover.PERSON"], [sheet, "handover.PRINTED"]);
      return {
        body: [team, person, sheet].map((c) => c.element),
        words() {
          if (!team.value || !person.value) {
            return amiss(team.value ? person : team, "Type the team and who of it takes over.");
          }
          const words = [episode.name, "team", team.value, "person", person.value];
          if (sheet.value) words.push("sheet", ...sheet.value.toUpperCase().split(/\s+/));
          return [["taken", words]];
        },
      };
    },
  },
  close: {
    title: "Close",
    build({ episode }) {
      const outcome = choices("How did it end?", [["handed-over", "Handed over"],
        ["descended", "Went down"], ["recovered", "Recovered"], ["died", "Died"],
        ["other", "Other"]]);
      return {
        body: [h("p", {}, "Nothing is reminded of any more; the records stay."), outcome.element],
        words: () => (outcome.value ? [["close", [episode.name, outcome.value]]]
          : amiss(outcome, "Choose how it ended.")),
      };
    },
  },
};

// Where what is missing can be entered; "" where nobody here can.
const panelFor = (missing) => (/allergies/.test(missing) ? "background"
  : /opening/.test(missing) ? "" : "observe");

// A number that was only touched is neither sent nor forgotten without a word.
function unfinished(body) {
  const start = body.map((element) => (element.matches && element.matches(".stepper.start") ? element
    : element.querySelector && element.querySelector(".stepper.start"))).find(Boolean);
  return start ? amiss({ element: start },
    `${start.getAttribute("aria-label")}: tap the number to take it, or \u00d7.`) : "";
}
for (const panel of Object.values(panels)) {
  const { build } = panel;
  panel.build = (context) => {
    const built = build(context);
    return { ...built, words: () => unfinished(built.body) || built.words() };
  };
}
