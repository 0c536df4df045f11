"use strict";
// The controls of the panels: large, without the device's keyboard where a glove must do.

// The same button twice within this time is one touch: gloves bounce (ours).
const BOUNCE_MS = 400;
function steady(act) {
  let last_ms = -BOUNCE_MS;
  return (event) => {
    const now_ms = performance.now();
    if (now_ms - last_ms < BOUNCE_MS) return;
    last_ms = now_ms;
    act(event);
  };
}

// What is wrong is said loudly at the control itself, until it is touched; and goes on to the form.
function amiss({ element }, text) {
  document.querySelectorAll("[data-amiss]").forEach((marked) => delete marked.dataset.amiss);
  element.dataset.amiss = text;
  const done = () => delete element.dataset.amiss;
  element.addEventListener("click", done, { once: true });
  element.addEventListener("input", done, { once: true });
  const fold = element.closest("details");
  if (fold) fold.open = true;
  setTimeout(() => element.scrollIntoView({ block: "center" }));
  return text;
}
// What is chosen and what is typed beside it cannot both be meant.
const twice = (picked, input) => (picked.value && input.value
  ? amiss(input, `Choose one: "${input.value}" is typed, another is chosen.`) : "");

// One of several words; `pick` of none is allowed and means "not said".
function choices(name, options, picked, onPick) {
  const box = h("fieldset", { class: "choices" }, h("legend", {}, name));
  const control = { value: picked || "", element: box };
  const show = () => box.querySelectorAll("button").forEach((b) =>
    b.setAttribute("aria-pressed", String(b.dataset.word === control.value)));
  control.set = (word) => {
    control.value = word;
    show();
  };
  for (const [word, text] of options) {
    const button = h("button", { type: "button", onclick: steady(() => {
      control.set(control.value === word ? "" : word);
      if (onPick) onPick(control.value);
    }) }, text);
    button.dataset.word = word;
    button.dataset.keep = `${name}-${word}`;
    box.append(button);
  }
  show();
  return control;
}

// Puts some of the words behind a fold, which opens for the one that is chosen.
function foldAway(control, name, words, ...more) {
  const rest = h("div", { class: "rest" });
  control.element.querySelectorAll("button").forEach((button) => {
    if (words.includes(button.dataset.word)) rest.append(button);
  });
  const fold = h("details", { class: "more" }, h("summary", {}, name), rest, ...more);
  const { set } = control;
  control.set = (word) => {
    set(word);
    if (words.includes(word)) fold.open = true;
  };
  control.element.append(fold);
}

// A number by steps; what was not measured is not sent. The first touch only shows where it starts
// (at the value of the last time): it counts from the second one, a step or a tap on the number.
function stepper(name, { from, min, max, step = 1, unit = "", last = null, show = String,
  unset = "not measured" }) {
  const control = { value: null };
  let start = null; // shown, and no value yet
  let shown_ms = 0;
  const out = h("button", { type: "button", class: "reading", "aria-live": "polite",
    onclick: () => take(0) });
  const was = (told) => (last ? h("small", {}, `was ${show(last.value)}${told}`) : "");
  const render = () => {
    const nothing = control.value === null && start === null;
    control.element.className = `stepper ${nothing ? "empty" : control.value === null ? "start" : ""}`;
    out.replaceChildren(...(control.value !== null
      ? [`${show(control.value)} `, unit ? h("small", {}, unit) : "", was("")]
      : nothing ? [unset, was(last ? `, ${age(last.taken_s)}` : "")]
        : [`start ${show(start)}`, h("small", {}, "tap to take it")]).filter(Boolean));
  };
  function take(by) {
    if (control.value === null && start === null) {
      start = Math.min(max, Math.max(min, last ? last.value : from));
      shown_ms = performance.now();
    } else if (control.value !== null) {
      control.value = Math.min(max, Math.max(min, control.value + by));
    } else if (performance.now() - shown_ms >= BOUNCE_MS) {
      control.value = Math.min(max, Math.max(min, start + by));
    }
    render();
  }
  // Held down it goes on, faster and in larger steps; what lies on the glass makes no number.
  const button = (label, text, by) => {
    let timer = null;
    let count = 0;
    const stop = () => clearTimeout(timer);
    const repeat = () => {
      if (control.value === null) return;
      count += 1;
      take(by * (count > 8 ? 5 : 1));
      timer = setTimeout(repeat, 150);
    };
    return h("button", {
      type: "button", "aria-label": `${name}: ${label}`,
      onpointerdown: () => { count = 0; timer = setTimeout(repeat, 500); },
      onpointerup: stop, onpointerleave: stop, onpointercancel: stop,
      onclick: () => { if (count === 0) take(by); count = 0; },
      oncontextmenu: (event) => event.preventDefault(),
    }, text);
  };
  const clear = h("button", { type: "button", class: "clear", title: `${unset} after all`,
    "aria-label": `${name}: ${unset} after all`, onclick: () => {
      control.value = null;
      start = null;
      render();
      out.focus({ preventScroll: true });
    } }, "\u00d7");
  control.element = h("div", { role: "group", "aria-label": name }, h("span", { class: "name" }, name),
    button("less", "\u2212", -step), out, button("more", "+", step), clear);
  render();
  return control;
}

// `of`: what it belongs to, where several of the name can be on a page.
function typed(name, { example = "", value = "", of = "" } = {}) {
  const id = `f-${name.replace(/\W+/g, "-")}${of}`;
  const input = h("input", { id, placeholder: example && `e.g. ${example}`, value, autocomplete: "off" });
  return {
    element: h("div", {}, h("label", { for: id }, name), input),
    get value() { return input.value.trim(); },
  };
}

// Any of several words.
function several(name, options) {
  const picked = new Set();
  const box = h("fieldset", { class: "choices" }, h("legend", {}, name));
  for (const [word, text] of options) {
    const button = h("button", { type: "button", "aria-pressed": "false", onclick: steady(() => {
      if (!picked.delete(word)) picked.add(word);
      button.setAttribute("aria-pressed", String(picked.has(word)));
    }) }, text);
    box.append(button);
  }
  return { element: box, get value() { return [...picked].join(","); } };
}

// A number with its unit, by large keys of the page's own.
function keypad(name, units, unit) {
  const KEYS = ["1", "2", "3", "4", "5", "6", "7", "8", "9", ".", "0", "\u2190"];
  const DIGITS_MAX = 6;
  let digits = "";
  const out = h("output", { class: "unset", "aria-live": "polite" });
  const picked = choices("Unit", units.map((u) => [u, u]), unit, () => show());
  picked.element.classList.add("thirds");
  function show() {
    out.className = digits ? "" : "unset";
    out.textContent = digits ? `${digits} ${picked.value}` : "tap the amount";
  }
  const press = (key) => {
    if (key === "\u2190") digits = digits.slice(0, -1);
    else if (digits.length < DIGITS_MAX && !(key === "." && digits.includes("."))) digits += key;
    show();
  };
  show();
  return {
    // "8mg"; "" when nothing or no number was tapped.
    get value() { return Number(digits) > 0 && picked.value ? `${Number(digits)}${picked.value}` : ""; },
    element: h("div", { class: "keypad", role: "group", "aria-label": name },
      h("span", { class: "name" }, name), out, h("div", { class: "keys" }, ...KEYS.map((key) =>
        h("button", { type: "button", "aria-label": key === "\u2190" ? "erase the last" : key,
          onclick: steady(() => press(key)) }, key))), picked.element),
  };
}

// One of those whose names are known here, or a name typed.
function person(name, people, another = "Or another name") {
  const known = people.length ? choices(name, people.map((p) => [p, p])) : null;
  if (known) known.element.classList.add("thirds");
  const input = typed(known ? another : name, { example: "name" });
  return {
    get value() { return input.value || (known ? known.value : ""); },
    wrong: () => (known ? twice(known, input) : ""),
    element: h("div", {}, known ? known.element : "", input.element),
  };
}

// Everybody who has entered, given, checked or pumped in this episode, but the one who enters now.
function peopleOf(episode) {
  const names = episode ? [...episode.observations, ...episode.doses, ...episode.chamber_events]
    .flatMap((row) => [row.by, row.checker]) : [];
  return [...new Set([...names.reverse(), ...entries.crew()])]
    .filter((name) => name && name !== entries.by()).slice(0, 6);
}

// What is not asked of everybody, folded away.
function folded(name, ...controls) {
  return { element: h("details", { class: "more" }, h("summary", {}, name),
    ...controls.map((c) => c.element)) };
}

// The numbers that the fields have on the blank forms: [control, keys of paperNumbers ...].
function numbered(...rows) {
  for (const [control, ...keys] of rows) {
    const label = control.element.querySelector("legend, .name, label");
    label.dataset.paper = keys.map((key) => paperNumbers[key]).join(" ");
  }
}
