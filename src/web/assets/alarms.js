"use strict";
// Alarms on both pages: how they sound, and the answers to them by name. What stands is judged by
// the station; sound goes on until somebody answers or the cause is gone.
const alarms = (() => {
  // How often and how depends on how pressing it is (ours); the word for it is what is read.
  const rings = { fast: { word: "NOW", every_ms: 2000, tones: [988, 988, 988] },
    loud: { word: "urgent", every_ms: 6000, tones: [784, 988] },
    soft: { word: "soon", every_ms: 30000, tones: [660] } };
  const word = (a) => (a.sounds ? rings[a.sound].word : a.acknowledged ? "acknowledged" : "silenced");
  const order = Object.keys(rings);
  const presses = (a, b) => order.indexOf(a.sound) - order.indexOf(b.sound);
  const LOST_MS = 60000;
  let rung_ms = -Infinity; // by a clock that nobody sets: a wall clock put back would hush it
  let lost_ms = null; // since when the line has been lost

  // To be called about once a second with the alarms that sound.
  function ring(sounding) {
    const now_ms = performance.now();
    if (station.lostSince() === null) lost_ms = null;
    else if (lost_ms === null) lost_ms = now_ms;
    const lost = lost_ms !== null && now_ms - lost_ms > LOST_MS;
    const worst = order.find((word) => sounding.some((a) => a.sound === word)) ||
      (lost ? "soft" : ""); // alarms cannot be heard of any more
    if (!worst || now_ms - rung_ms < rings[worst].every_ms) return;
    rung_ms = now_ms;
    rings[worst].tones.forEach((tone, i) => setTimeout(() => sound.beep(tone, 0.25), i * 300));
    if (worst === "fast" && navigator.vibrate) navigator.vibrate([200, 100, 200, 100, 200]);
  }

  function buttons(a, after) {
    const args = [a.episode, a.rule, ...(a.about ? [a.about] : [])];
    const button = (text, verb) => {
      const element = h("button", { type: "button", onclick: () => entries.named(() => {
        entries.once(element, station.enter("alarms", [verb, ...args]));
        if (after) after();
      }) }, text);
      element.dataset.keep = `${verb}-${args.join("-")}`;
      return element;
    };
    return h("span", { class: "buttons" },
      a.ackable && !a.acknowledged ? button("Acknowledge", "ack") : "",
      a.sounds ? button(`Silence ${Math.round(a.snooze_s_max / 60)} min`, "snooze") : "");
  }

  return { ring, word, buttons, presses };
})();
