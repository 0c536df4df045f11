"use strict";
// The pump's rhythm: sound, vibration and light at a rate a person sets, a count, and the turn of
// the pumper. The rate is the party's decision; the page keeps the beat and tells the station each
// stroke. A beat is a stroke only while somebody has said so within WATCHED_MS: a phone that goes on
// beating beside a pump nobody works must not keep the station's alarm silent.
const pump = (() => {
  const KEY = "ridgepost-pump";
  const WATCHED_MS = 120000; // ours
  const state = { timer: null, strokes: 0, beats: 0, started_ms: 0, pumper_ms: 0, seen_ms: 0 };
  const saved = JSON.parse(localStorage.getItem(KEY) || "{}");
  let rate_per_min = saved.rate_per_min || 12; // one stroke in five seconds: common practice
  let turn_min = saved.turn_min || 10;
  let pumper = "";
  let episode = ""; // whose chamber it is
  const save = () => localStorage.setItem(KEY, JSON.stringify({ rate_per_min, turn_min }));
  let onStroke = () => {};

  const on = () => state.timer !== null;
  const counts = () => on() && Date.now() - state.seen_ms < WATCHED_MS;
  const due = () => on() && Date.now() - state.pumper_ms >= turn_min * 60000;

  // Each beat is set from the start, so that the rhythm does not drift.
  function schedule() {
    const next_ms = state.started_ms + (state.beats * 60000) / rate_per_min;
    state.timer = setTimeout(beat, Math.max(0, next_ms - Date.now()));
  }
  function beat() {
    state.beats += 1;
    sound.beep(counts() ? 660 : 330, 0.12);
    if (navigator.vibrate) navigator.vibrate(80);
    if (due()) {
      sound.beep(990, 0.5);
      if (navigator.vibrate) navigator.vibrate([200, 100, 200]);
    }
    if (counts()) {
      state.strokes += 1;
      station.tell("stroke", [episode, pumper].filter(Boolean));
    }
    onStroke();
    schedule();
  }
  function restart() {
    clearTimeout(state.timer);
    Object.assign(state, { beats: 0, started_ms: Date.now() });
    schedule();
  }
  return {
    on, counts, due,
    start(name) {
      episode = name;
      const now_ms = Date.now();
      Object.assign(state, { strokes: 0, pumper_ms: now_ms, seen_ms: now_ms });
      stayAwake();
      restart();
    },
    stop() {
      clearTimeout(state.timer);
      state.timer = null;
    },
    seen() { state.seen_ms = Date.now(); },
    change(name) {
      pumper = name;
      state.pumper_ms = Date.now();
      state.seen_ms = state.pumper_ms;
    },
    pumper: () => pumper,
    rate: () => rate_per_min,
    turn_min: () => turn_min,
    setRate(value) {
      rate_per_min = Math.min(60, Math.max(2, value));
      save();
      if (on()) restart(); // the beat starts anew at the new rate
    },
    setTurn(value) {
      turn_min = Math.min(60, Math.max(1, value));
      save();
    },
    strokes: () => state.strokes,
    pumping_s: () => (Date.now() - state.pumper_ms) / 1000,
    onStroke: (f) => { onStroke = f; },
  };
})();

// What the station computes of the air inside from the strokes it was told, or "".
function airInside(episode) {
  const { air, rate_dpm: rate } = (episode.course.pumping || {});
  if (!air) return "";
  const pct = (fraction) => `${(100 * fraction).toFixed(1)} %`;
  return `Air inside by ${(rate / 10).toFixed(1)} strokes/min, an estimate: CO2 ${pct(air.co2_rest)}, ` +
    `in distress ${pct(air.co2_distress)}; oxygen ${pct(air.o2_rest)}. CO2 at 1 % needs ` +
    `${air.needed_rest} strokes/min, in distress ${air.needed_distress}`;
}

// The panel of it. now(): the episode as it is known.
function pumpPanel(box, bar, now) {
  const light = h("button", { type: "button", class: "pumplight", onclick: () => {
    pump.seen();
    show();
  } }, "stopped");
  const line = h("p", {});
  const estimate = h("p", {});
  const rate = h("strong", {});
  const turn = h("strong", {});
  const crew = h("div", {});
  const toggle = h("button", { type: "button", class: "act", onclick: () => {
    if (pump.on()) pump.stop();
    else pump.start(now().name);
    show();
  } }, "Start");
  function show() {
    const air = airInside(now());
    estimate.textContent = air;
    estimate.hidden = !air;
    rate.textContent = `${pump.rate()} strokes/min (one in ${(60 / pump.rate()).toFixed(1)} s)`;
    turn.textContent = `Change pumper every ${pump.turn_min()} min`;
    line.textContent = !pump.on() ? "" : `${pump.strokes()} ` +
      `${pump.strokes() === 1 ? "stroke" : "strokes"} told to the station; ` +
      `${pump.pumper() || "this pumper"} for ${running(pump.pumping_s())}` +
      `${pump.due() ? " - CHANGE PUMPER" : ""}`;
    const word = !pump.on() ? "stopped" : pump.due() ? "CHANGE PUMPER" : "PUMP";
    light.replaceChildren(h("span", {}, pump.on() && !pump.counts() ? "NOT COUNTED" : word),
      pump.on() ? h("small", {}, pump.counts() ? "tap while you pump: counts for 2 min"
        : "tap here if somebody is pumping") : "");
    light.disabled = !pump.on();
    toggle.textContent = pump.on() ? "Stop" : "Start";
  }
  function showCrew() {
    const picked = choices("Who pumps now?", entries.crew().map((n) => [n, n]), pump.pumper(),
      (name) => { if (name) { pump.change(name); show(); } });
    const name = typed("Another pumper", { example: "name" });
    crew.replaceChildren(entries.crew().length ? picked.element : "", name.element,
      h("p", {}, h("button", { type: "button", onclick: () => {
        if (!name.value) return;
        entries.addCrew(name.value);
        pump.change(name.value);
        showCrew();
        show();
      } }, "This one pumps now")));
  }
  const step = (text, label, f) => h("button", { type: "button", "aria-label": label,
    onclick: () => { f(); show(); } }, text);
  pump.onStroke(() => {
    light.classList.add("on");
    setTimeout(() => light.classList.remove("on"), 250);
    show();
  });
  showCrew();
  show();
  box.append(h("h1", {}, "Pump rhythm"), light, line, estimate, crew,
    h("p", {}, rate), h("div", { class: "acts" },
      step("\u2212 slower", "\u2212 slower strokes", () => pump.setRate(pump.rate() - 1)),
      step("+ faster", "+ faster strokes", () => pump.setRate(pump.rate() + 1))),
    h("p", {}, turn), h("div", { class: "acts" },
      step("\u2212 sooner", "\u2212 sooner change of pumper", () => pump.setTurn(pump.turn_min() - 1)),
      step("+ later", "+ later change of pumper", () => pump.setTurn(pump.turn_min() + 1))),
    h("p", { class: "small" }, "The beat only: what the chamber needs depends on altitude, " +
      "temperature and pump."),
    bar(toggle));
}
