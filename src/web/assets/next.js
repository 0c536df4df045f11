"use strict";
// The next thing to do at the bedside: said largest. Nothing here enters or changes anything.

// Two patients can have the same name: the episode's stands before it.
const called = (e) => `${e.name} ${e.patient || "no name yet"}`;
const titled = (e) => `${called(e)}, ${e.label}`;

// What is next: { say, more, mark, to, of }. mark: "ALARM", "NOW", "STANDS" or ""; to: the panel that
// it opens; of: the episode of an alarm.
const next = (() => {
  // Signs of the patient: while such an alarm stands, a time that is far off is not the largest thing.
  const SIGNS = ["conscious", "spo2-band", "spo2-fall", "spo2-no-rise", "resp", "pulse"];
  const UNANSWERED_S = 600; // ours, as the watch's rule not-accepted

  // The later answer that has replaced this one, or none.
  function replacedBy(answer, all) {
    const kinds = [["expected"], ["accepted", "refused"]].find((group) => group.includes(answer.kind)) || [];
    return all.slice(all.indexOf(answer) + 1).filter((a) => !a.voided && kinds.includes(a.kind)).pop();
  }
  const unread = (e) => (e.answers || []).filter((a) => a.kind !== "seen" && !a.read_back &&
    !a.voided && !replacedBy(a, e.answers)).reverse();

  const lastObserved_s = (e) => (e.observations || []).filter((o) => !o.voided)
    .reduce((last, o) => Math.max(last, o.taken_s), 0);
  const due_s = (e) => e.obs_due_s || (e.course.rebound ? e.course.rebound_check_s : 0);
  function dueWords(e) {
    const left_s = due_s(e) - clock.now_s();
    return left_s > 0 ? `in ${span(left_s)} (${clock.time(due_s(e))})`
      : left_s > -60 ? "now" : `now, ${span(-left_s)} overdue`;
  }

  function alarm({ episode, sounding }) {
    const a = sounding[0]; // the most pressing comes first
    if (!a || (a.sound !== "fast" && episode && unread(episode).length)) return null;
    const other = !episode || a.episode !== episode.name;
    return { say: `${other ? `${called(a.whose)}: ` : ""}${a.reason}`, mark: "ALARM",
      more: `${a.value_s ? `value ${age(a.value_s)}: ` : ""}${a.next}` +
        (sounding.length > 1 ? ` (${sounding.length - 1} more)` : ""), to: "alarms", of: a.episode };
  }
  function answered({ episode }) {
    const [answer, ...rest] = unread(episode);
    if (!answer) return null;
    return { say: `Base says: ${answer.kind}${answer.eta_s ? ` ${clock.time(answer.eta_s)}` : ""}`,
      mark: "NOW", more: `${[answer.whom, answer.text].filter(Boolean).join(": ")} - tap to read it back` +
        (rest.length ? ` (${rest.length} more)` : ""), to: `readback:${answer.record}` };
  }
  function hold({ episode }) {
    return episode.course.inside && episode.course.phase === "hold"
      ? { say: "Chamber: hold", mark: "NOW", more: "tap for what happens next", to: "chamber" } : null;
  }
  function observeNow({ episode }) {
    const last_s = lastObserved_s(episode);
    if (!due_s(episode) || (last_s && due_s(episode) > clock.now_s())) return null;
    const late_s = clock.now_s() - due_s(episode);
    return { say: "Observe now", mark: "NOW", to: "observe", more: !last_s ? "never observed"
      : late_s >= 60 ? `${span(late_s)} overdue` : `last ${age(last_s)}` };
  }
  function silence_s({ request: r, answers }) {
    const heard = r && (!r.unanswered || answers.some((a) => !a.voided && a.recorded_s >= r.asked_s));
    return r && !heard ? clock.now_s() - r.asked_s : 0;
  }
  function silence({ episode }) {
    if (silence_s(episode) < UNANSWERED_S) return null;
    return { say: `Nobody at base has answered for ${span(silence_s(episode))}`, mark: "NOW",
      more: `${episode.request.urgency.toUpperCase()} asked ${clock.time(episode.request.asked_s)}: ` +
        "try voice or another way to base", to: "evacuate" };
  }
  // What is wrong with the patient, as an alarm that was silenced says it or as it was told, before
  // when the next look is due.
  function flag({ episode }) {
    const due = due_s(episode) ? `observe ${dueWords(episode)}` : "";
    const a = episode.alarms.find((one) => SIGNS.includes(one.rule));
    if (a) {
      return { say: a.reason, mark: "STANDS", to: "alarms", more: [due, a.value_s ? `value ${age(a.value_s)}`
        : "", `alarm ${a.acknowledged ? `acknowledged by ${a.by}` : `silent until ${clock.time(a.until_s)}`}`]
        .filter(Boolean).join("; ") };
    }
    const { acvpu, spo2_pct: spo2 } = episode.signs;
    const told = [["worse", "critical"].includes(episode.condition) ? [episode.condition, episode.condition_s]
      : null, acvpu && acvpu.word !== "alert" ? [acvpu.word, acvpu.taken_s] : null,
    episode.assessed.spo2_below_band ? [`SpO2 ${spo2.value} %`, spo2.taken_s] : null].filter(Boolean);
    if (!told.length) return null;
    return { say: told.map(([word]) => word).join(", "), mark: "STANDS", to: "observe",
      more: [due, `told ${age(Math.min(...told.map(([, time_s]) => time_s)))}`].filter(Boolean).join("; ") };
  }
  function chamber({ episode }) {
    const c = episode.course;
    return c.inside && c.phase !== "at pressure" ? { say: `Chamber: ${c.phase}`, mark: "",
      more: "tap for what happens next", to: "chamber" } : null;
  }
  function observe({ episode }) {
    const last_s = lastObserved_s(episode);
    return due_s(episode) ? { say: `Observe ${dueWords(episode)}`, mark: "", more: `last ${age(last_s)}`,
      to: "observe" } : { say: "Observe", more: "nothing is due", mark: "", to: "observe" };
  }

  const candidates = [alarm, answered, hold, observeNow, chamber, silence, flag, observe];
  // now: { episode, sounding }; sounding: alarms of all patients, each with `whose`, the worst first.
  // Without an episode only an alarm can be next.
  function thing(now) {
    for (const candidate of now.episode ? candidates : [alarm]) {
      const found = candidate(now);
      if (found) return found;
    }
    return null;
  }
  return { thing, replacedBy, silence_s, UNANSWERED_S };
})();
