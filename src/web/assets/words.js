"use strict";
// An entry and its refusal in plain words, as a person would say them: the panel, the patient, what
// was tried and why it was not taken; nothing of the command line.
const plain = (() => {
  // What an entry is called where it is listed; the panels of the same commands have these titles.
  const titles = { report: "Observations", fluids: "Drunk and passed", chamber: "Chamber",
    give: "Drug given", oxygen: "Oxygen", evacuate: "Evacuation", reassess: "Reassess",
    descent: "Going down?", correct: "Correction", open: "New patient", note: "Note",
    taken: "Taken over", close: "Close", answer: "Answer", readback: "Read back",
    alarms: "Answer to an alarm",
    background: "Background" };
  // Words that the panels send, where a person says others.
  const says = { im: "into muscle", iv: "into vein", sc: "under the skin", sl: "under the tongue",
    oral: "by mouth", pr: "rectal", spo2: "SpO2", bp: "blood pressure", resp: "breaths",
    temp: "temperature", lls: "Lake Louise score", same: "no change", air: "on air",
    "pain-score": "pain",
    checked: "checked by", confirmed: "stood for by", at: "at pressure", e1: "E1", e2: "E2", e3: "E3",
    e4: "E4", ack: "acknowledged", snooze: "silenced", void: "was wrong:", no: "not now:" };
  // These take the word that follows.
  const leads = new Set(["pain-score", "spo2", "pulse", "resp", "temp", "bp", "lls", "ataxia", "airway", "fluid",
    "urine", "over", "cylinder", "water", "altimeter", "wind", "from", "visibility", "surface", "site",
    "hazards", "contact", "next", "walks", "mental", "patient", "sex", "age", "allergies", "team",
    "person", "sheet", "checked", "confirmed", "arrives", "to", "void", "no", "other", "hold",
    "medicines", "history", "meal", "cloud", "weight", "flat", "conscious", "needs", "patients", "party",
    "altitude", "area", "slope", "obstacles", "marked", "gust", "weather", "daylight", "fallback",
    "insurance"]);
  const say = (word) => says[word] || word.trim().replace(/^([\d.]+)([A-Za-z%][A-Za-z/]*)$/, "$1 $2");

  // "dexamethasone 8 mg, into muscle, checked by Jory"
  function tried({ command, args }) {
    const words = /^\d+-\d+$/.test(args[0]) ? args.slice(1) : args;
    let text = "";
    words.forEach((word, i) => {
      const before = words[i - 1];
      const joined = leads.has(before) || (command === "give" && i === 1) ||
        (command === "evacuate" && before === "oxygen");
      text += `${i === 0 ? "" : joined ? " " : ", "}${command === "evacuate" && word === "at" ? "position" : say(word)}`;
    });
    return text;
  }
  const title = ({ command }) => titles[command] || command;
  const of = (entry) => entry.patient || entry.args.find((word) => /^\d+-\d+$/.test(word)) || "";
  // "Drug given, Alpha: dexamethasone 8 mg, into muscle"
  const line = (entry) => `${[title(entry), of(entry)].filter(Boolean).join(", ")}: ${tried(entry)}`;

  // The reason alone: what was noted beside it, examples and options are for the command line.
  function reason(problem, entry) {
    const text = problem.text.split("; the rest was NOT recorded: ").pop()
      .replace(/;? *\(example: .*$/s, "").replace(/(; check and enter|,? or) again with --sure.*$/s, "")
      .replace(/; needs a second name$/, "");
    const drug = `${entry.args[1]}: `;
    const short = entry.command === "give" && text.startsWith(drug) ? text.slice(drug.length) : text;
    const [word] = short.split(" ");
    return word in says && word === problem.field ? says[word] + short.slice(word.length) : short;
  }

  return { line, title, tried, of, reason };
})();
