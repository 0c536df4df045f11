"use strict";
// What the bedside's board tells under the next thing to do: the strip of facts, and what is known
// with its age. Nothing here enters or changes anything.
const facts = (() => {
  // --- the strip: read at one look ---

  // The station's own clock, gone on since it was asked.
  function chamberTimes(c) {
    const counts = c.inside && (c.phase === "at pressure" || c.phase === "hold");
    const more_s = counts ? clock.now_s() - station.viewed_s() : 0;
    return { total_s: c.total_s + more_s, left_s: Math.max(0, c.session_left_s - more_s) };
  }
  const value = (...text) => h("span", { class: "value" }, ...text);
  const sessionLeft = (left_s) => [value(left_s > 0 ? span(left_s) : "OVER"),
    left_s > 0 ? " of this session left" : ": the session's time"];

  function chamberLine(c) {
    if (!c.inside) return c.rebound ? [`Out of the chamber: watch until ${clock.time(c.rebound_until_s)}`] : [];
    return [`Chamber: ${c.phase} `, value(ticking(() => running(clock.now_s() - c.phase_since_s))), ", ",
      ...sessionLeft(chamberTimes(c).left_s)];
  }

  const AWAY = ["queued", "on_air", "heard"]; // not at base yet
  const away = (delivery) => AWAY.reduce((sum, state) => sum + delivery[state], 0);
  function baseLine(episode, radioReady) {
    const { delivery } = episode;
    const count = away(delivery);
    const oldest = count ? delivery.rows.find((row) => AWAY.includes(row.state))
      : delivery.rows[delivery.rows.length - 1];
    return [count ? `Not at base yet: ${count}, the oldest` : "Base has everything, the newest",
      ` ${oldest ? age(oldest.entered_s) : ""}`, ...answerWords(episode),
      radioReady ? "" : "; the radio is not ready"];
  }
  function answerWords(episode) {
    const silent_s = next.silence_s(episode);
    if (silent_s >= next.UNANSWERED_S) return [h("strong", {}, `; NOBODY HAS ANSWERED for ${span(silent_s)}`)];
    if (silent_s > 0) return ["; no answer yet"];
    const last = episode.answers.filter((a) => !a.voided).pop();
    return last ? [`; ${last.kind === "seen" ? "seen" : `answer: ${last.kind}`} by ${last.by}, ` +
      age(last.recorded_s)] : [];
  }

  function strip(episode, radioReady) {
    const oxygen = oxygenLeft(episode);
    return h("div", { class: "strip" }, ...[chamberLine(episode.course), oxygen ? [oxygen] : [],
      baseLine(episode, radioReady)].filter((line) => line.length).map((line) => h("p", {}, ...line)));
  }

  // --- the rest, each under its title ---

  const signNames = [["spo2_pct", "SpO2", (v) => `${v} %`], ["pulse_bpm", "Pulse", (v) => `${v}/min`],
    ["resp_rpm", "Breathing", (v) => `${v}/min`], ["acvpu", "Conscious", (v, s) => s.word],
    ["airway", "Airway", (v, s) => s.word],
    ["temp_dc", "Temperature", (v) => `${(v / 10).toFixed(1)} \u00b0C`]];

  function signs(episode) {
    const list = h("dl", { class: "signs" });
    for (const [key, name, show] of signNames) {
      const sign = episode.signs[key];
      list.append(h("dt", {}, name), sign
        ? h("dd", {}, h("span", { class: "value" }, show(sign.value, sign)), " ",
          h("span", { class: "small" }, `${sign.mode}, ${age(sign.taken_s)}`))
        : h("dd", { class: "small" }, "not measured"));
    }
    return h("section", {}, h("h2", {}, "Last values"), list);
  }

  // Where the patient is, what is left, all sessions against the plan.
  function chamberClock({ course: c }) {
    if (c.sessions === 0) return "";
    const { total_s, left_s } = chamberTimes(c);
    const plan = c.plan ? ` of ${c.plan.least_s / 60} min or more planned for ${c.plan.illness}` : "";
    const rows = c.inside
      ? [h("p", {}, value(ticking(() => running(clock.now_s() - c.phase_since_s))),
        ` ${c.phase}; `, ...sessionLeft(left_s))]
      : c.rebound ? [h("p", {}, `Watch for relapse until ${clock.time(c.rebound_until_s)}, next ` +
        `check ${clock.time(c.rebound_check_s)}`)] : [];
    return h("section", {}, h("h2", {}, c.inside ? `Chamber, session ${c.session}: ${c.phase}`
      : "Out of the chamber"), ...rows,
    h("p", {}, `${span(total_s)} at pressure in all${plan}`),
    c.head_up ? h("p", {}, "Head end raised?") : "",
    c.last_start_s ? h("p", {}, c.last_start_s > clock.now_s()
      ? `Last safe start down ${clock.time(c.last_start_s)}, light ends ${clock.time(c.light_end_s)}`
      : h("strong", {}, `Too late to start down in daylight: it was ${clock.time(c.last_start_s)}`)) : "",
    c.why_not_due && !c.inside ? h("p", {}, "Why not down? To be answered before a session.") : "");
  }

  function dueDrugs(episode) {
    if (!episode.drugs_due.length) return "";
    return h("section", {}, h("h2", {}, "Next due by the table"), h("ul", { class: "plain" },
      ...episode.drugs_due.map((d) => h("li", {}, h("strong", {}, d.drug), `: interval over ` +
        clock.time(d.due_s), clock.now_s() > d.due_s ? h("strong", {}, " - OVERDUE") : "",
      h("span", { class: "small" }, ` given ${clock.time(d.last_s)}` +
        (d.reviewed ? "" : "; the table is NOT REVIEWED"))))));
  }

  // way(to, class, text) makes a button that opens a panel.
  function handed(episode, way) {
    const last = (episode.handovers || []).filter((x) => !x.voided).pop();
    return last ? h("section", {}, h("h2", {}, "Handed over"), h("p", {}, `${clock.time(last.happened_s)} ` +
      `to ${last.team}, taken over by ${last.taken_by}`), way("close", "", "Close")) : "";
  }

  function drugs(episode) {
    if (!episode.doses.length) return "";
    const rows = episode.doses.filter((d) => !d.voided).slice(-6).reverse().map((d) =>
      h("li", {}, h("strong", {}, d.name), ` ${d.dose_text || ""} ${d.route || ""} `,
        h("span", { class: "small" }, `${clock.time(d.happened_s)}, ${age(d.happened_s)}` +
          (d.checker ? `, checked by ${d.checker}` : "") + (d.refused ? ", refused" : ""))));
    return h("section", {}, h("h2", {}, "Drugs given"), h("ul", { class: "plain" }, ...rows));
  }

  function delivery(episode, radioReady) {
    const d = episode.delivery;
    const count = away(d);
    const newest = d.rows.slice(-4).reverse().map((r) => h("li", {}, `${r.kind}: `,
      h("strong", {}, { queued: "queued", on_air: "on air", heard: "heard by a relay",
        at_base: "at base", seen: `seen by ${r.seen_by}` }[r.state]),
      h("span", { class: "small" }, `, entered ${clock.time(r.entered_s)}`)));
    return h("section", {}, h("h2", {}, count === 0 ? "Base has everything"
      : `${count} ${count === 1 ? "entry is" : "entries are"} not at base yet`),
    radioReady ? "" : h("p", {}, "The radio is not ready: entries are kept and sent later."),
    h("ul", { class: "plain" }, ...newest));
  }

  function replaced(answer, episode) {
    const later = next.replacedBy(answer, episode.answers);
    return later ? h("strong", {}, ` - REPLACED BY ${later.kind} ` +
      clock.time(later.eta_s || later.recorded_s)) : "";
  }
  function answers(episode) {
    if (!episode.answers.length) return "";
    const rows = episode.answers.slice(-5).reverse().map((a) => h("li", {},
      h("strong", {}, a.kind), a.eta_s ? ` ${clock.time(a.eta_s)}` : "",
      ` ${[a.whom, a.text].filter(Boolean).join(": ")} `,
      h("span", { class: "small" }, `${a.by}, ${age(a.recorded_s)}` +
        (a.kind === "seen" ? "" : a.read_back ? ", read back" : ", NOT read back")), replaced(a, episode)));
    return h("section", {}, h("h2", {}, "From base"), h("ul", { class: "plain" }, ...rows));
  }

  function missing(episode, way) {
    if (!episode.missing.length) return "";
    return h("section", {}, h("h2", {}, "Still missing"),
      h("ul", { class: "plain" }, ...episode.missing.map((m) => h("li", {}, panelFor(m)
        ? way(panelFor(m), "", `${m} - enter it`) : m))));
  }

  // { episode, radioReady, way } -> the sections, in order.
  const sections = ({ episode, radioReady, way }) => [chamberClock(episode), signs(episode),
    delivery(episode, radioReady), answers(episode), handed(episode, way), dueDrugs(episode),
    drugs(episode), missing(episode, way)];
  return { strip, sections };
})();
