"use strict";
// The pump's rhythm: sound, vibration and light at a rate a person sets, a count, and the turn of
// the pumper. The rate is the party's decision; the page keeps the beat and tells the station each
// stroke. A beat is a stroke only while somebody has said so within WATCHED_MS: a phone that goes on
// beating beside a pump nobody works must not keep the station's alarm silent.
// Time is the page's own running time: a clock that is set makes no beat. A beat that was missed, as
// by a page that slept, is left out and no stroke.
const pump = (() => {
  const KEY = "ridgepost-pump";
  const RUNS = "ridgepost-pump-runs"; // whose rhythm ran when the page was left
  const WATCHED_MS = 120000; // ours
  const now_ms = () => performance.now();
  const state = { timer: null, strokes: 0, beats: 0, started_ms: 0, pumper_ms: 0, seen_ms: 0,
    seen_at_ms: 0, inside: false };
  const saved = JSON.parse(localStorage.getItem(KEY) || "{}");
  let rate_per_min = saved.rate_per_min || 12; // one stroke in five seconds: common practice
  let turn_min = saved.turn_min || 10;
  let pumper = "";
  let episode = ""; // whose chamber it is
  let lost = sessionStorage.getItem(RUNS) || "";
  const save = () => localStorage.setItem(KEY, JSON.stringify({ rate_per_min, turn_min }));
  let onStroke = () => {};

  const on = () => state.timer !== null;
  // A device that slept may have stopped the running time: the clock may end it, never lengthen it.
  const counts = () => on() && now_ms() - state.seen_ms < WATCHED_MS &&
    Date.now() - state.seen_at_ms < WATCHED_MS;
  const due = () => on() && now_ms() - state.pumper_ms >= turn_min * 60000;
  const seen = () => Object.assign(state, { seen_ms: now_ms(), seen_at_ms: Date.now() });

  // Each beat is set from the start, so that the rhythm does not drift.
  const period_ms = () => 60000 / rate_per_min;
  const next_ms = () => state.started_ms + state.beats * period_ms();
  function schedule() {
    const passed = Math.floor((now_ms() - state.started_ms) / period_ms());
    if (now_ms() - next_ms() > period_ms() / 2) state.beats = passed + 1;
    state.timer = setTimeout(beat, Math.max(0, next_ms() - now_ms()));
  }
  function beat() {
    if (now_ms() - next_ms() > period_ms() / 2) { // too late to be this beat
      schedule();
      return;
    }
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
    Object.assign(state, { beats: 0, started_ms: now_ms() });
    schedule();
  }
  function stop() {
    clearTimeout(state.timer);
    state.timer = null;
    lost = "";
    sessionStorage.removeItem(RUNS);
    onStroke();
  }
  // Out of the chamber nobody pumps: as entered here, or as the station tells.
  station.on("waiting", () => {
    const out = ({ command, args }) => command === "chamber" && args[0] === episode &&
      args.includes("out");
    if (on() && station.waiting().some(out)) stop();
  });
  return {
    on, counts, due, seen, stop,
    start(name) {
      episode = name;
      Object.assign(state, { strokes: 0, pumper_ms: now_ms(), inside: false });
      seen();
      lost = "";
      sessionStorage.setItem(RUNS, name);
      stayAwake();
      restart();
    },
    change(name) {
      pumper = name;
      state.pumper_ms = now_ms();
      seen();
    },
    // The heads of the episodes, whenever they come.
    know(episodes) {
      const mine = on() && episodes.find((e) => e.name === episode);
      if (!mine) return;
      if (state.inside && !mine.course.inside) stop();
      state.inside = mine.course.inside;
    },
    // What the board tells: null when nothing runs; `stopped`: it ran until the page was left.
    state: () => (on() ? { episode, rate_per_min, pumper, pumping_s: pump.pumping_s(),
      strokes: state.strokes, counts: counts(), due: due(), stopped: false }
      : lost ? { episode: lost, stopped: true } : null),
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
    pumping_s: () => (now_ms() - state.pumper_ms) / 1000,
    onStroke: (f) => { onStroke = f; },
  };
})();

// The line of the board, "" when nothing runs.
function pumpLine() {
  const p = pump.state();
  if (!p) return "";
  if (p.stopped) return `Pump rhythm of ${p.episode} STOPPED when the page was left - open`;
  return `Pump of ${p.episode}: ${p.rate_per_min}/min, ${p.pumper || "no name"} ` +
    `${running(p.pumping_s)}${p.due ? " - CHANGE PUMPER" : p.counts ? "" : " - NOT COUNTED, tap"}`;
}

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
  // What else presses stays in sight of the one who pumps.
  const session = h("p", { class: "session" }, ticking(() => {
    const line = sessionClock(now());
    return line ? line.textContent : "";
  }));
  const standing = h("p", { class: "wrong" }, ticking(() => {
    const all = now().alarms;
    return all.length ? `ALARMS (${all.length}): ${all.map((a) => a.reason).join("; ")}` : "";
  }));
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
  box.append(h("h1", {}, "Pump rhythm"), session, standing, light, line, estimate, crew,
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
