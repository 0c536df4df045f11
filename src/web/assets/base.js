"use strict";
// The base page: the patients in the order the station gives, one of them whole, the alarms above.
(() => {
  const list = document.getElementById("list");
  const one = document.getElementById("one");
  const bellBox = document.getElementById("bell");
  let view = null; // the station and all heads
  let episode = null; // the one shown, whole
  let may = false; // whether this device enters
  let sounding = [];
  let part = ""; // what `one` holds
  let shown = ""; // the patient shown last
  const NARROW = 800; // less: a sheet of 80 columns is wider than the screen

  // "#7-1/answer/eta": the patient, what is open, and which of it.
  function address() {
    let text = location.hash.slice(1);
    try {
      text = decodeURIComponent(text);
    } catch {
      // Typed by hand: not known here.
    }
    const [first, what = "", which = "", more = ""] = text.split("/");
    return { first, what, which, more };
  }
  const go = (hash) => { location.hash = hash; };
  const apart = ["links", "log"]; // of no patient
  const named = (name) => view.episodes.find((e) => e.name === name);
  function picked() {
    const { first } = address();
    return apart.includes(first) ? null : named(first || shown) || null;
  }
  // The patient shown stands in the address from the first showing on: the order of the list changes,
  // what is shown does not.
  function pin() {
    const { first, what } = address();
    if (named(first)) shown = first;
    if (first || what) return;
    if (!shown && view.episodes.length) shown = view.episodes[0].name;
    if (shown) history.replaceState(null, "", `#${shown}`);
  }

  // --- painting: only what changed; what a person types, presses or has unfolded stays ---

  // Spans that run on are told by the page's own clock and need no painting.
  const running_keys = ["phase_s", "session_s", "session_left_s", "total_s", "at_pressure_s",
    "at_pressure_total_s"];
  const painted = new Map();
  function paint(root, state, build) {
    const key = JSON.stringify(state, (k, v) => (running_keys.includes(k) ? undefined : v));
    if (painted.get(root) === key) return;
    painted.set(root, key);
    repaint(root, build());
  }

  // A tap that was meant for what lay there a moment ago enters nothing.
  const MOVED_MS = 400;
  const moved = new WeakMap(); // what lies where another thing lay -> since when
  function places() {
    return [...document.querySelectorAll("#bell button, main button, main a")].map((element) => ({
      element, name: element.dataset.keep || element.textContent + (element.hash || ""),
      at: element.getBoundingClientRect() })).filter(({ at }) => at.width > 0);
  }
  function watched(change) {
    const before = places();
    change();
    const same = (a, b) => Math.abs(a.left - b.left) + Math.abs(a.top - b.top) < 4;
    const meet = (a, b) => a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
    const isSelf = (was, now) => was.element === now.element || was.name === now.name;
    places().filter((now) => !before.some((was) => isSelf(was, now) && same(was.at, now.at)) &&
      before.some((was) => !isSelf(was, now) && meet(was.at, now.at)))
      .forEach(({ element }) => moved.set(element, performance.now()));
  }
  document.addEventListener("click", (event) => {
    const target = event.target.closest("button, a");
    const ago_ms = performance.now() - (moved.get(target) ?? -MOVED_MS);
    if (event.detail === 0 || ago_ms >= MOVED_MS) return; // by keyboard: the focus goes with it
    event.preventDefault();
    event.stopPropagation();
    desk.say("It had just moved: nothing was entered. Look, and tap again.");
  }, true);

  function paintHead() {
    const s = view.self;
    document.getElementById("where").textContent = `${s.name} (${s.station})`;
    document.title = `${sounding.length ? `(${sounding.length}) ` : ""}${s.name} - Ridgepost`;
    const exercise = s.exercise || (episode && episode.exercise);
    const mark = document.getElementById("exercise");
    mark.hidden = !exercise;
    mark.textContent = s.exercise ? "EXERCISE - no real patient; everything entered here is marked"
      : "EXERCISE - the patient shown is not real";
    const name = document.getElementById("name");
    name.hidden = !may;
    name.textContent = entries.by() ? `Entering: ${entries.by()}` : "Your name?";
    const { first } = address();
    document.querySelectorAll("nav a").forEach((a) => {
      const here = a.dataset.part === (apart.includes(first) ? first : "");
      if (here) a.setAttribute("aria-current", "page");
      else a.removeAttribute("aria-current");
    });
  }

  function paintBell() {
    const { all, nodes } = desk.bell(view, may, paintBellAgain);
    sounding = all;
    bellBox.hidden = nodes.length === 0;
    paint(bellBox, [all, nodes.length, may], () => nodes);
  }
  function paintBellAgain() {
    painted.delete(bellBox);
    watched(paintBell);
  }

  function paintList() {
    const chosen = picked();
    const open = view.episodes.filter((e) => !e.closed).length;
    paint(list, [view.episodes, chosen && chosen.name, may, station.waiting()], () => [
      entries.waitingBox(),
      h("h2", {}, view.episodes.length === 0 ? "No patient is known"
        : `${open} open, those who need a person first`),
      ...view.episodes.map((e) => patient.card(e, chosen && e.name === chosen.name)),
      may ? keep(h("a", { class: "button", href: "#/voice/open" }, "New patient, told by voice"),
        "voice-open") : ""]);
  }

  function keep(element, name) {
    element.dataset.keep = name;
    return element;
  }

  function ways(e) {
    const link = (text, what) => keep(h("a", { class: "button", href: `#${e.name}/${what}` }, text),
      `go-${what}`);
    return h("div", { class: "buttons" }, may ? link("Report taken by voice", "voice") : "",
      link("Handover", "handover"), link("Log", "log"),
      may && !e.closed ? link("Taken over", "end/taken") : "",
      may && !e.closed ? link("Close", "end/close") : "");
  }

  function paintOne(e) {
    if (!e) {
      paint(one, ["none"], () => [h("p", {}, "Nothing has been received yet.")]);
      return;
    }
    paint(one, [e, may, one.clientWidth], () => [
      h("h2", {}, `${patient.title(e)}, ${e.label}${e.closed ? " - CLOSED" : ""}`),
      ways(e),
      h("div", { class: "boxes" },
        h("div", {}, patient.evacuation(e, may ? desk.answerButtons(e) : ""), patient.missing(e, may)),
        h("div", {}, patient.now(e), patient.values(e), patient.given(e)),
        wide(desk.alarmBox(e, may, paintBellAgain)), wide(patient.history(e)),
        wide(patient.told(e)), wide(patient.reckoned(e)))]);
    patient.drawTrend(one, e);
  }
  // No guess who was meant.
  function paintUnknown(name) {
    paint(one, [name, view.episodes.map(patient.title)], () => [h("h2", {}, `${name} is not known here`),
      h("div", { class: "buttons" }, ...view.episodes.map((e) =>
        h("a", { class: "button", href: `#${e.name}` }, patient.title(e))))]);
  }
  function paintComing(e) {
    paint(one, ["coming", e.name], () => [h("h2", {}, patient.title(e)),
      h("p", {}, "asking the station ...")]);
  }
  function wide(box) {
    if (box) box.classList.add("wide");
    return box;
  }

  function paintLinks() {
    const told = view.stations.map((s) => ({ ...s, heard_age_s: Math.ceil(s.heard_age_s / 60) }));
    const words = view.episodes.map((e) => [e.name, e.station, e.word_s, e.closed]);
    paint(one, [told, view.self, words, one.clientWidth], () => [h("h2", {}, "Links"),
      links.camps(view), links.draw(view, Math.max(280, one.clientWidth - 4)), links.asTable(view), links.own(view)]);
  }

  // --- what is open ---

  const leave = () => { history.length > 1 ? history.back() : go(episode ? episode.name : ""); };

  // Forms are built once and stay: what was typed is not painted over. Each is built into a place of
  // its own: an answer that comes late finds that place gone, and nothing else.
  function openPart(name, build) {
    if (part === name) return;
    part = name;
    painted.delete(one);
    const place = h("div");
    one.replaceChildren(place);
    const built = build(place);
    if (built) place.replaceChildren(built);
    scrollTo(0, 0);
    const field = place.querySelector("input, .form button");
    if (field && built) field.focus();
  }
  function closePart() {
    if (part !== "") {
      one.replaceChildren();
      painted.delete(one);
    }
    part = "";
  }

  function paintMain() {
    const { first, what, which, more } = address();
    const e = picked();
    const whole = episode && e && episode.name === e.name ? episode : null;
    const unknown = first && !e && !apart.includes(first);
    document.body.dataset.open = unknown ? "one" : what || (apart.includes(first) ? first
      : first ? "one" : "");
    if (unknown) {
      closePart();
      paintUnknown(first);
    } else if (first === "links") {
      closePart();
      paintLinks();
    } else if (first === "log" || what === "log") {
      openPart(`log/${first}`, (place) => void desk.log(place, what === "log" && e ? e.name : ""));
    } else if (what === "voice" && may && first === "") {
      openPart(`voice/${which}`, () => desk.voiceForm(null, "open", view, leave));
    } else if (e && !whole) {
      if (part.split("/")[1] === e.name) return; // what is being typed stays
      closePart();
      paintComing(e);
    } else if (!whole) {
      closePart();
      paintOne(null);
    } else if (what === "handover") {
      openPart(`handover/${first}/${which}/${more}`, (place) =>
        void desk.handover(place, whole, view, which || (innerWidth < NARROW ? "roll32" : "text"),
          more || "en"));
    } else if (what === "answer" && may && which) {
      openPart(`answer/${first}/${which}`, () => desk.answerForm(whole, which, leave));
    } else if (what === "end" && may && ["taken", "close"].includes(which)) {
      openPart(`end/${first}/${which}`, () => desk.endForm(whole, which, view, leave));
    } else if (what === "voice" && may) {
      openPart(`voice/${first}/${which}`, () => (panels[which]
        ? desk.voiceForm(whole, which, view, leave) : desk.voiceMenu(whole)));
    } else {
      closePart();
      paintOne(whole);
    }
  }

  function render() {
    if (!view) return;
    pin();
    paintBell();
    paintHead();
    paintList();
    paintMain();
    tickAll();
  }
  const renderAnew = () => watched(render); // not by a tap of the person before the page

  // --- life ---

  function tickAll() {
    tick();
    const time = new Date((clock.now_s() + clock.epoch_s()) * 1000).toISOString();
    document.getElementById("clock").textContent = view ? `${time.slice(11, 19)}Z` : "";
  }

  let asking = false;
  let askAgain = false;
  async function refresh() {
    if (asking) {
      askAgain = true;
      return;
    }
    asking = true;
    try {
      const all = await station.get("/view");
      clock.set(all.data);
      view = all.data;
      pin();
      const e = picked();
      const whole = e ? await station.get(`/view?episode=${encodeURIComponent(e.name)}`) : null;
      if (picked() === e) episode = whole ? whole.data.episode : null;
    } catch {
      // The line says it; what was known stays, with its age.
    } finally {
      asking = false;
    }
    renderAnew();
    if (askAgain) {
      askAgain = false;
      refresh();
    }
  }

  // On a phone the patient is below the list: to the one that is shown already, too.
  list.addEventListener("click", (event) => {
    const card = event.target.closest(".card");
    if (card && card.hash === location.hash && innerWidth < 900) one.scrollIntoView();
  });
  document.getElementById("light").addEventListener("click", nextLight);
  document.getElementById("name").addEventListener("click", () => entries.askName());
  document.getElementById("ask").addEventListener("named", render);
  addEventListener("hashchange", () => {
    if (!view) return;
    const e = picked();
    if (e && (!episode || episode.name !== e.name)) refresh();
    const { first, what } = address(); // before it is pinned: "Patients" leads to the list
    render();
    if (first && !what && innerWidth < 900) one.scrollIntoView();
    else if (!first && !what) scrollTo(0, 0);
  });
  let width = innerWidth;
  addEventListener("resize", () => {
    if (innerWidth !== width) render();
    width = innerWidth;
  });
  station.on("view", refresh);
  station.on("waiting", renderAnew);
  station.on("line", () => {
    entries.showLine();
    renderAnew();
  });
  setInterval(() => {
    tickAll();
    alarms.ring(sounding.map(([a]) => a));
  }, 1000);
  setInterval(refresh, 10000); // alarms come with time alone, without a record
  stayAwake();
  // Who this device is decides about every button: asked until it is known.
  function askWho() {
    station.get("/me").then((me) => {
      may = me.role !== "reader";
      renderAnew();
    }).catch(() => setTimeout(askWho, 3000));
  }
  askWho();
  refresh();
  station.live();
})();
