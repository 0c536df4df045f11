"use strict";
// The panels of the bedside page: each builds its controls and says which words it would send. They
// are in the address (#observe), so that the browser's back button leaves them.
//
// A panel is { title, build(context) -> {body, words} }; words() gives the lines to enter, each
// [command, [words...]], or a string that says what is missing.

// --- controls ---

// One of several words; `pick` of none is allowed and means "not said".
function choices(name, options, picked, onPick) {
  const box = h("fieldset", { class: "choices" }, h("legend", {}, name));
  const control = { value: picked || "", element: box };
  const show = () => box.querySelectorAll("button").forEach((b) =>
    b.setAttribute("aria-pressed", String(b.dataset.word === control.value)));
  for (const [word, text] of options) {
    const button = h("button", { type: "button", onclick: () => {
      control.value = control.value === word ? "" : word;
      show();
      if (onPick) onPick(control.value);
    } }, text);
    button.dataset.word = word;
    box.append(button);
  }
  show();
  return control;
}

// A number by steps. Unset until touched: what was not measured is not sent. The first touch takes
// the value of the last time, as a start and not as a value.
function stepper(name, { from, min, max, step = 1, unit = "", last = null, show = String }) {
  const control = { value: null };
  const out = h("output", { class: "unset", "aria-live": "polite" });
  const render = () => {
    out.className = control.value === null ? "unset" : "";
    clear.hidden = control.value === null; // below the steps, so that nothing moves under a finger
    out.replaceChildren(...(control.value === null
      ? ["not measured", last ? h("small", {}, `was ${show(last.value)}, ${age(last.taken_s)}`) : ""]
      : [`${show(control.value)} ${unit}`, last ? h("small", {}, `was ${show(last.value)}`) : ""]));
  };
  const move = (by) => {
    control.value = control.value === null ? (last ? last.value : from) : control.value + by;
    control.value = Math.min(max, Math.max(min, control.value));
    render();
  };
  // Held down it goes on, faster and in larger steps.
  const button = (label, text, by) => {
    let timer = null;
    let count = 0;
    const stop = () => clearTimeout(timer);
    const repeat = () => {
      count += 1;
      move(by * (count > 8 ? 5 : 1));
      timer = setTimeout(repeat, 150);
    };
    return h("button", {
      type: "button", "aria-label": `${name}: ${label}`,
      onpointerdown: () => { count = 0; timer = setTimeout(repeat, 500); },
      onpointerup: stop, onpointerleave: stop, onpointercancel: stop,
      onclick: () => { if (count === 0) move(by); count = 0; },
      oncontextmenu: (event) => event.preventDefault(),
    }, text);
  };
  const clear = h("button", { type: "button", class: "clear", onclick: () => {
    control.value = null;
    render();
  } }, "Not measured after all");
  control.element = h("div", { class: "stepper", role: "group", "aria-label": name },
    h("span", { class: "name" }, name),
    button("less", "\u2212", -step), out, button("more", "+", step), clear);
  render();
  return control;
}

function typed(name, { example = "", value = "" } = {}) {
  const id = `f-${name.replace(/\W+/g, "-")}`;
  const input = h("input", { id, placeholder: example, value, autocomplete: "off" });
  return {
    element: h("div", {}, h("label", { for: id }, name), input),
    get value() { return input.value.trim(); },
  };
}

// --- panels ---

const modes = [["air", "On air"], ["oxygen", "On oxygen"], ["chamber", "In chamber"],
  ["chamber+oxygen", "Chamber + oxygen"]];
const levels = [["alert", "Alert"], ["confused", "Confused"], ["voice", "Answers voice"],
  ["pain", "Answers pain"], ["unresponsive", "No answer"]];
const airways = [["clear", "Clear"], ["at-risk", "At risk"], ["noisy", "Noisy"],
  ["blocked", "Blocked"], ["device", "Device"]];
const conditions = [["better", "Better"], ["same", "Same"], ["worse", "Worse"],
  ["critical", "Critical"]];

function modeNow(episode) {
  const inside = episode.course.inside;
  const last = episode.oxygen[episode.oxygen.length - 1];
  const oxygen = last && last.action !== "stop";
  return inside ? (oxygen ? "chamber+oxygen" : "chamber") : oxygen ? "oxygen" : "air";
}

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
      const all = [condition, level, airway, mode, spo2, pulse, resp, temp];
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
          if (words.length === 0) return "Choose or measure something first.";
          if (spo2.value !== null || pulse.value !== null || resp.value !== null) {
            if (!mode.value) return "Say how they were measured: on air, oxygen or in the chamber.";
            words.push(mode.value);
          }
          return [["report", [episode.name, ...words]]];
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
      const event = choices("What happens now?", [["close", "Closed"], ["pressurise", "Pressurising"],
        ["at", "At pressure"], ["hold", "Hold"], ["resume", "Pressure again"],
        ["deflate", "Deflating"], ["out", "Out of the chamber"]], following);
      const reason = choices("If a hold: why?", [["ears", "Ears"], ["vomit", "Vomiting"],
        ["panic", "Panic"], ["pain", "Pain"], ["pump", "Pump"], ["other", "Other"]]);
      const gauge = stepper("Gauge pressure, hPa", { from: 138, min: 0, max: 300, step: 2,
        unit: "hPa" });
      const altimeter = stepper("Altimeter inside, m", { from: 3000, min: -400, max: 8900, step: 50,
        unit: "m" });
      const why = choices("Before each session: why not down now?", [["dark", "Dark"],
        ["weather", "Weather"], ["terrain", "Terrain"], ["carriers", "No carriers"],
        ["condition", "Patient cannot"], ["other", "Other reason"]]);
      const parts = [event, reason, gauge, altimeter];
      if (!inside) parts.splice(1, 0, why);
      return {
        body: [h("p", {}, "A chamber buys time. Descent is the treatment."),
          ...parts.map((c) => c.element)],
        words() {
          const lines = [];
          if (!event.value) return "Choose what happens now.";
          if (!inside && why.value) lines.push(["descent", [episode.name, "no", why.value]]);
          if (!inside && !why.value && event.value === "close") {
            return "Answer first: why not down now?";
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
      const allergies = h("p", { class: "small" }, "Allergies: ",
        h("strong", {}, episode.background.allergies));
      const known = [...new Set(episode.doses.map((d) => d.name))];
      const listed = [...new Set([...known, ...(view.drugs || []).map((d) => d.name),
        "dexamethasone", "nifedipine", "acetazolamide"])];
      const name = choices("Which drug?", listed.slice(0, 8).map((n) => [n, n]));
      const other = typed("Another drug", { example: "name" });
      const dose = typed("Dose with its unit", { example: "8mg" });
      const route = choices("How?", [["oral", "By mouth"], ["im", "Into muscle (IM)"],
        ["iv", "Into vein (IV)"], ["sl", "Under the tongue"], ["inhaled", "Inhaled"]]);
      const checked = typed("Second person who checked drug and dose", { example: "name" });
      return {
        body: [h("p", {}, "Recorded as given. Follow your protocol and the treating clinician."),
          allergies, name.element, other.element, dose.element, route.element, checked.element],
        words() {
          const drug = other.value || name.value;
          if (!drug) return "Choose or type the drug.";
          if (!dose.value) return "Type the dose with its unit, such as 8mg.";
          const words = [episode.name, drug, dose.value];
          if (route.value) words.push(route.value);
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
      const flow = stepper("Flow, L/min", { from: 20, min: 0, max: 250, step: 5,
        show: (v) => (v / 10).toFixed(1) });
      const cylinder = typed("Cylinder", { example: "A", value: last ? last.cylinder || "" : "" });
      const bar = stepper("Cylinder pressure, bar", { from: 150, min: 0, max: 300, step: 5 });
      return {
        body: [action, device, flow, cylinder, bar].map((c) => c.element),
        words() {
          if (!action.value) return "Choose what happens.";
          const words = [episode.name, action.value];
          if (device.value && action.value !== "stop") words.push(device.value);
          if (flow.value !== null) words.push(`${(flow.value / 10).toFixed(1)}L/min`);
          if (cylinder.value) words.push("cylinder", cylinder.value);
          if (bar.value !== null) words.push(`${bar.value}bar`);
          return [["oxygen", words]];
        },
      };
    },
  },
  evacuate: {
    title: "Ask for evacuation",
    build({ episode }) {
      const urgency = choices("How urgent?", [["e1", "E1 now: life in danger"],
        ["e2", "E2 within the hour"], ["e3", "E3 today"], ["e4", "E4 when possible"]]);
      const mobility = choices("Patient", [["stretcher", "Stretcher"], ["sitting", "Can sit"],
        ["walking", "Walks"]]);
      const oxygen = choices("Needs oxygen in the aircraft?", [["yes", "Yes"], ["no", "No"]]);
      const wind = stepper("Wind, km/h", { from: 10, min: 0, max: 200, step: 5 });
      const from = choices("Wind from", [["0", "N"], ["45", "NE"], ["90", "E"], ["135", "SE"],
        ["180", "S"], ["225", "SW"], ["270", "W"], ["315", "NW"]]);
      const sight = choices("How far can you see?", [["500m", "Under 1 km"], ["3km", "1 to 5 km"],
        ["10km", "More"]]);
      const surface = choices("Landing place", [["snow", "Snow"], ["ice", "Ice"], ["rock", "Rock"],
        ["grass", "Grass"], ["sand", "Sand"]]);
      const site = typed("Landing place, position if known", { example: "28.10460,86.75310" });
      const hazards = typed("Hazards (wires, loose snow, slope)", { example: "prayer flags" });
      const parts = [urgency, mobility, oxygen, wind, from, sight, surface, site, hazards];
      return {
        body: [h("p", {}, "It is repeated until base has it, and stands until base answers. What " +
          "is known already is not asked again."), ...parts.map((c) => c.element)],
        words() {
          if (!urgency.value) return "Choose how urgent it is.";
          const words = [episode.name, urgency.value];
          if (mobility.value) words.push(mobility.value);
          if (oxygen.value) words.push("oxygen", oxygen.value);
          if (wind.value !== null) words.push("wind", `${wind.value}km/h`);
          if (from.value) words.push("from", from.value);
          if (sight.value) words.push("visibility", sight.value);
          if (surface.value) words.push("surface", surface.value);
          if (site.value) words.push("site", site.value);
          if (hazards.value) words.push("hazards", hazards.value);
          return [["evacuate", words]];
        },
      };
    },
  },
  open: {
    title: "New patient",
    build() {
      const label = choices("Working label", [["ams", "AMS"], ["hace", "HACE"], ["hape", "HAPE"],
        ["other", "Other"]]);
      const patient = typed("Patient (a name only if chosen, else A)", { value: "A" });
      const sex = choices("Sex", [["f", "Female"], ["m", "Male"]]);
      const years = stepper("Age, years", { from: 35, min: 0, max: 110 });
      const allergies = typed("Allergies: type none if asked and none", { example: "none" });
      return {
        body: [label, patient, sex, years, allergies].map((c) => c.element),
        words() {
          if (!label.value) return "Choose a working label.";
          if (!patient.value) return "Type a name or a letter.";
          const words = [label.value];
          if (label.value === "other") words.push("see note");
          words.push("patient", patient.value);
          if (sex.value) words.push("sex", sex.value);
          if (years.value !== null) words.push("age", years.value);
          if (allergies.value) words.push("allergies", allergies.value);
          return [["open", words]];
        },
      };
    },
  },
  note: {
    title: "Note",
    build({ episode }) {
      const text = typed("What should be written down?", { example: "vomited once" });
      return {
        body: [text.element],
        words: () => (text.value ? [["note", [episode.name, text.value]]]
          : "Type the note first."),
      };
    },
  },
  taken: {
    title: "Taken over",
    build({ episode }) {
      const team = typed("Which team takes the patient?", { example: "Valley Air 3" });
      const person = typed("Who of it takes over?", { example: "name" });
      const sheet = typed("Sheet handed over: number and check, on its first line", { example: "2 K7QP" });
      return {
        body: [team, person, sheet].map((c) => c.element),
        words() {
          if (!team.value || !person.value) return "Type the team and who of it takes over.";
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
          : "Choose how it ended."),
      };
    },
  },
};
