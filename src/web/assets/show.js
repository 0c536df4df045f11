"use strict";
// Small helpers that all pages share: making elements, times, ages, panels in the address's hash.
function h(tag, properties = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(properties)) {
    if (name === "class") element.className = value;
    else if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (name.includes("-") || name === "for" || name === "role") {
      element.setAttribute(name, value);
    } else element[name] = value;
  }
  element.append(...children.filter((c) => c !== null && c !== undefined && c !== ""));
  return element;
}

const clock = (() => {
  let offset_s = 0; // net time minus this device's clock: this device's clock may be wrong
  let epoch_unix_s = 0;
  return {
    epoch_s: () => epoch_unix_s,
    set(view) {
      epoch_unix_s = view.epoch_unix_s;
      offset_s = view.now_s - Math.floor(Date.now() / 1000);
    },
    now_s: () => Math.floor(Date.now() / 1000) + offset_s,
    // "14:05Z", with the day when it is another one.
    time(time_s) {
      const date = new Date((time_s + epoch_unix_s) * 1000);
      const today = new Date((this.now_s() + epoch_unix_s) * 1000);
      const hour = date.toISOString().slice(11, 16) + "Z";
      const day = date.toISOString().slice(5, 10);
      return day === today.toISOString().slice(5, 10) ? hour : `${day} ${hour}`;
    },
  };
})();

// Whole minutes, rounded up, so that nothing looks younger than it is.
function span(seconds) {
  const min = Math.max(0, Math.ceil(seconds / 60));
  if (min < 60) return `${min} min`;
  const hours = Math.floor(min / 60);
  if (hours < 48) return `${hours} h ${String(min % 60).padStart(2, "0")} min`;
  return `${Math.floor(hours / 24)} d ${hours % 24} h`;
}
function age(time_s) {
  return `${span(clock.now_s() - time_s)} old`;
}
// A text that goes on: said anew by the page's own clock.
function ticking(say) {
  const element = h("span", { class: "ticks" }, say());
  element.say = say;
  return element;
}
function tick() {
  document.querySelectorAll(".ticks").forEach((element) => {
    const text = element.say();
    if (element.textContent !== text) element.textContent = text;
  });
}
function running(seconds) {
  const s = Math.max(0, Math.floor(seconds));
  const two = (n) => String(n).padStart(2, "0");
  return `${Math.floor(s / 3600)}:${two(Math.floor(s / 60) % 60)}:${two(s % 60)}`;
}

// Puts nodes into root and leaves what is the same as it was, so that a press that is under way, the
// focus and what is unfolded stay. A button is kept only under a name of its own (data-keep): another
// one's would do what the old one did.
function repaint(root, nodes) {
  const focused = document.activeElement && root.contains(document.activeElement)
    ? document.activeElement.dataset.keep : null;
  blend(root, nodes.filter((node) => node !== "" && node !== null && node !== undefined));
  const again = focused && root.querySelector(`[data-keep="${CSS.escape(focused)}"]`);
  if (again && again !== document.activeElement) again.focus({ preventScroll: true });
}
// What has a name of its own stays itself when something before it comes or goes.
function blend(root, nodes) {
  const nameOf = (node) => (node.dataset ? node.dataset.keep : undefined);
  const names = new Set(nodes.map(nameOf));
  nodes.forEach((node, i) => {
    const rest = [...root.childNodes].slice(i);
    const at = nameOf(node) === undefined ? -1 : rest.findIndex((old) => nameOf(old) === nameOf(node));
    rest.slice(0, Math.max(0, at)).forEach((old) => old.remove());
    const old = rest[Math.max(0, at)];
    if (!old) root.append(node);
    else if (isKept(old, node)) {
      if (node.say) old.say = node.say;
      if (old.nodeType === Node.ELEMENT_NODE) blend(old, [...node.childNodes]);
    } else if (at < 0 && nameOf(old) !== undefined && names.has(nameOf(old))) {
      root.insertBefore(node, old);
    } else root.replaceChild(node, old);
  });
  while (root.childNodes.length > nodes.length) root.lastChild.remove();
}
// What a person has typed or unfolded is theirs: a field stays as long as its id does.
function isKept(old, node) {
  if (old.nodeType !== Node.ELEMENT_NODE) return old.isEqualNode(node);
  if (old.tagName !== node.tagName) return false;
  if (old.tagName === "INPUT" && old.id) return old.id === node.id;
  if (old.tagName === "BUTTON" && old.dataset.keep === undefined) return false;
  const [was, is] = [old.cloneNode(false), node.cloneNode(false)];
  if (old.tagName === "DETAILS") is.open = was.open;
  return was.isEqualNode(is);
}

// Names of the lightings, kept on the device.
const lights = ["day", "night", "contrast"];
function setLight(name) {
  document.documentElement.dataset.light = name;
  localStorage.setItem("ridgepost-light", name);
}
setLight(localStorage.getItem("ridgepost-light") || "day");
function nextLight() {
  const now = lights.indexOf(document.documentElement.dataset.light);
  setLight(lights[(now + 1) % lights.length]);
}

// One sound for all alarms, made here: no file to load. Browsers allow it after the first tap (HTML
// standard, activation triggering input events: a touch counts when it ends).
const sound = (() => {
  let context = null;
  let missed = false;
  const listeners = [];
  const tell = () => listeners.forEach((f) => f());
  const ready = () => context !== null && context.state === "running";
  function wake() {
    const Context = window.AudioContext || window.webkitAudioContext;
    if (ready() || !Context) return;
    if (!context) {
      context = new Context();
      context.addEventListener("statechange", tell);
    }
    context.resume().catch(() => {});
  }
  for (const input of ["pointerdown", "pointerup", "keydown"]) addEventListener(input, wake, true);
  document.addEventListener("visibilitychange", tell);
  function beep(frequency_hz, seconds, volume = 0.4) {
    if (!ready()) {
      missed = true;
      tell();
      return;
    }
    missed = false;
    const tone = context.createOscillator();
    const level = context.createGain();
    tone.frequency.value = frequency_hz;
    level.gain.setValueAtTime(volume, context.currentTime);
    level.gain.exponentialRampToValueAtTime(0.001, context.currentTime + seconds);
    tone.connect(level).connect(context.destination);
    tone.start();
    tone.stop(context.currentTime + seconds);
  }
  return {
    ready, beep,
    missed: () => missed, // the last tone that was to sound did not
    on: (f) => listeners.push(f), // f(): whether it can sound may have changed
    // The loudest that there is; false when nothing sounds.
    test() {
      [988, 784, 988].forEach((tone, i) => setTimeout(() => beep(tone, 0.25), i * 300));
      if (navigator.vibrate) navigator.vibrate([200, 100, 200]);
      return ready();
    },
  };
})();

// The screen stays on where the browser can (only over a secure address or localhost).
async function stayAwake() {
  try {
    if (navigator.wakeLock && document.visibilityState === "visible") {
      await navigator.wakeLock.request("screen");
    }
  } catch {
    // Refused, for example at low battery: the page works without.
  }
}
document.addEventListener("visibilitychange", stayAwake);
