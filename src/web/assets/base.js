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

  // "#7-1/answer/eta": the patient, what is open, and which of it.
  function address() {
    const [first, what = "", which = "", more = ""] = decodeURIComponent(location.hash.slice(1))
      .split("/");
    return { first, what, which, more };
  }
  const go = (hash) => { location.hash = hash; };
  const named = (name) => view.episodes.find((e) => e.name === name);
  function picked() {
    const { first } = address();
    return named(first) || (first === "links" || first === "log" ? null : view.episodes[0]) || null;
  }

  // --- painting: only what changed, and the focus stays where it was ---

  // Spans that run on are told by the page's own clock and need no painting.
  const running_keys = ["phase_s", "session_s", "session_left_s", "total_s", "at_pressure_s",
    "at_pressure_total_s"];
  const painted = new Map();
  function paint(root, state, build) {
    const key = JSON.stringify(state, (k, v) => (running_keys.includes(k) ? undefined : v));
    if (painted.get(root) === key) return;
    painted.set(root, key);
    const focused = document.activeElement && root.contains(document.activeElement)
      ? document.activeElement.dataset.keep : null;
    const unfolded = [...root.querySelectorAll("details[open]")].map((d) => d.dataset.keep);
    root.replaceChildren(...build().filter(Boolean));
    root.querySelectorAll("details").forEach((d) => { d.open = unfolded.includes(d.dataset.keep); });
    if (focused) {
      const again = root.querySelector(`[data-keep="${CSS.escape(focused)}"]`);
      if (again) again.focus({ preventScroll: true });
    }
  }

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
      const here = a.dataset.part === (["links", "log"].includes(first) ? first : "");
      if (here) a.setAttribute("aria-current", "page");
      else a.removeAttribute("aria-current");
    });
  }

  function paintBell() {
    const { all, nodes } = desk.bell(view, may, paintBellAgain);
    sounding = all;
    bellBox.hidden = nodes.length === 0;
    paint(bellBox, [all, nodes.length, sound.ready(), may], () => nodes);
  }
  function paintBellAgain() {
    painted.delete(bellBox);
    paintBell();
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

  function paintOne() {
    const e = episode;
    if (!e) {
      paint(one, ["none"], () => [h("p", {}, "Nothing has been received yet.")]);
      return;
    }
    paint(one, [e, may, one.clientWidth], () => [
      h("h2", {}, `${patient.title(e)}, ${e.label}${e.closed ? " - CLOSED" : ""}`),
      ways(e),
      h("div", { class: "boxes" },
        wide(patient.evacuation(e, may ? desk.answerButtons(e) : "")), patient.now(e),
        patient.missing(e, may), e.alarms.length ? wide(h("section", { class: "box" },
          h("h3", {}, "Alarms that stand"), ...e.alarms.map((a) => desk.alarmRow(a, e, may)))) : "",
        wide(patient.history(e)), patient.values(e), patient.given(e), patient.told(e),
        wide(patient.reckoned(e)))]);
    patient.drawTrend(one, e);
  }
  function wide(box) {
    if (box) box.classList.add("wide");
    return box;
  }

  function paintLinks() {
    const told = view.stations.map((s) => ({ ...s, heard_age_s: Math.ceil(s.heard_age_s / 60) }));
    paint(one, [told, view.self, one.clientWidth], () => [h("h2", {}, "Links"),
      links.draw(view, Math.max(280, one.clientWidth - 4)), links.asTable(view), links.own(view)]);
  }

  // --- what is open ---

  const leave = () => { history.length > 1 ? history.back() : go(episode ? episode.name : ""); };

  // Forms are built once and stay: what was typed is not painted over.
  function openPart(name, build) {
    if (part === name) return;
    part = name;
    painted.delete(one);
    const built = build();
    if (built) one.replaceChildren(built);
    scrollTo(0, 0);
    const field = one.querySelector("input, .form button");
    if (field && built) field.focus();
  }

  function paintMain() {
    const { first, what, which, more } = address();
    const e = picked();
    const whole = episode && e && episode.name === e.name ? episode : null;
    document.body.dataset.open = what || (["links", "log"].includes(first) ? first
      : first ? "one" : "");
    if (first === "links") {
      part = "";
      paintLinks();
    } else if (first === "log" || what === "log") {
      openPart(`log/${first}`, () => void desk.log(one, what === "log" && e ? e.name : ""));
    } else if (what === "voice" && may && first === "") {
      openPart(`voice/${which}`, () => desk.voiceForm(null, "open", view, leave));
    } else if (what && !whole) {
      return; // until it has come
    } else if (what === "handover") {
      openPart(`handover/${first}/${which}/${more}`, () =>
        void desk.handover(one, whole, view, which || "text", more || "en"));
    } else if (what === "answer" && may && which) {
      openPart(`answer/${first}/${which}`, () => desk.answerForm(whole, which, leave));
    } else if (what === "end" && may && ["taken", "close"].includes(which)) {
      openPart(`end/${first}/${which}`, () => desk.endForm(whole, which, view, leave));
    } else if (what === "voice" && may) {
      openPart(`voice/${first}/${which}`, () => (panels[which]
        ? desk.voiceForm(whole, which, view, leave) : desk.voiceMenu(whole)));
    } else {
      if (part !== "") painted.delete(one);
      part = "";
      paintOne();
    }
  }

  function render() {
    if (!view) return;
    paintBell();
    paintHead();
    paintList();
    paintMain();
    tickAll();
  }

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
      const e = picked();
      const whole = e ? await station.get(`/view?episode=${encodeURIComponent(e.name)}`) : null;
      episode = whole ? whole.data.episode : null;
    } catch {
      // The line says it; what was known stays, with its age.
    } finally {
      asking = false;
    }
    render();
    if (askAgain) {
      askAgain = false;
      refresh();
    }
  }

  document.getElementById("light").addEventListener("click", nextLight);
  document.getElementById("name").addEventListener("click", () => entries.askName());
  document.getElementById("ask").addEventListener("named", render);
  addEventListener("hashchange", () => {
    if (!view) return;
    const e = picked();
    if (e && (!episode || episode.name !== e.name)) refresh();
    render();
    const { first, what } = address();
    if (first && !what && innerWidth < 900) one.scrollIntoView();
  });
  let width = innerWidth;
  addEventListener("resize", () => {
    if (innerWidth !== width) render();
    width = innerWidth;
  });
  station.on("view", refresh);
  station.on("waiting", render);
  station.on("line", () => {
    entries.showLine();
    render();
  });
  setInterval(() => {
    tickAll();
    alarms.ring(sounding.map(([a]) => a));
  }, 1000);
  setInterval(refresh, 10000); // alarms come with time alone, without a record
  addEventListener("pointerdown", () => setTimeout(() => view && paintBell(), 300));
  stayAwake();
  station.get("/me").then((me) => {
    may = me.role !== "reader";
    render();
  }).catch(() => {});
  refresh();
  station.live();
})();
