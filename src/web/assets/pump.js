"use strict";
// The pump's rhythm: sound, vibration and light at a rate a person sets, a count, and the time since
// the pumper changed. The rate is the party's decision; the page only keeps the beat.
const pump = (() => {
  const KEY = "ridgepost-pump";
  const state = { timer: null, strokes: 0, started_ms: 0, pumper_ms: 0, pumper: 0 };
  const saved = JSON.parse(localStorage.getItem(KEY) || "{}");
  let rate_per_min = saved.rate_per_min || 12; // one stroke in five seconds: common practice
  let turn_min = saved.turn_min || 10;
  const save = () => localStorage.setItem(KEY, JSON.stringify({ rate_per_min, turn_min }));
  let onStroke = () => {};

  // Each stroke is set from the start, so that the beat does not drift.
  function schedule() {
    const next_ms = state.started_ms + (state.strokes * 60000) / rate_per_min;
    state.timer = setTimeout(stroke, Math.max(0, next_ms - Date.now()));
  }
  function stroke() {
    state.strokes += 1;
    sound.beep(660, 0.12);
    if (navigator.vibrate) navigator.vibrate(80);
    if (Date.now() - state.pumper_ms >= turn_min * 60000) {
      sound.beep(990, 0.5);
      if (navigator.vibrate) navigator.vibrate([200, 100, 200]);
    }
    onStroke();
    schedule();
  }
  return {
    on: () => state.timer !== null,
    start() {
      Object.assign(state, { strokes: 0, started_ms: Date.now(), pumper_ms: Date.now() });
      stayAwake();
      schedule();
    },
    stop() {
      clearTimeout(state.timer);
      state.timer = null;
    },
    changePumper() {
      state.pumper_ms = Date.now();
      state.pumper += 1;
    },
    rate: () => rate_per_min,
    turn_min: () => turn_min,
    setRate(value) {
      rate_per_min = Math.min(60, Math.max(2, value));
      save();
      if (state.timer !== null) {
        // The beat starts anew at the new rate.
        Object.assign(state, { strokes: 0, started_ms: Date.now() });
        clearTimeout(state.timer);
        schedule();
      }
    },
    setTurn(value) {
      turn_min = Math.min(60, Math.max(1, value));
      save();
    },
    strokes: () => state.strokes,
    pumping_s: () => (Date.now() - state.pumper_ms) / 1000,
    due: () => state.timer !== null && Date.now() - state.pumper_ms >= turn_min * 60000,
    onStroke: (f) => { onStroke = f; },
  };
})();
