"use strict";
// One patient at base: what is asked, what happens now, what is due, how it went, what is missing.
const patient = (() => {
  const signs = [["spo2_pct", "SpO2", (v) => `${v} %`], ["pulse_bpm", "Pulse", (v) => `${v} /min`],
    ["resp_rpm", "Breathing", (v) => `${v} /min`], ["acvpu", "Conscious level", (v, s) => s.word],
    ["airway", "Airway", (v, s) => s.word],
    ["temp_dc", "Temperature", (v) => `${(v / 10).toFixed(1)} \u00b0C`],
    ["lls", "Lake Louise score", (v) => `${v}`], ["ataxia", "Ataxia", (v) => `${v} of 4`],
    ["pain", "Pain", (v) => `${v} of 10`]];
  const needWords = { answer: "ANSWER", alarm: "ALARM", word: "SILENT", look: "WORSE", "": "open",
    closed: "closed" };

  const title = (e) => [e.name, e.patient || "opening not received"].join(" ");
  const box = (name, key, ...children) => h("section", { class: "box", id: `box-${key}` },
    h("h3", {}, name), ...children);
  // What was corrected stays to be read and counts for nothing.
  const mended = (row, ...children) => h("span", {}, row.voided
    ? h("strong", {}, "CORRECTED, counts for nothing: ") : "", h(row.voided ? "s" : "span", {}, ...children),
  row.late ? h("strong", {}, " AFTER THE HANDOVER") : "");
  const listOf = (items) => h("ul", { class: "plain" }, ...items.map((i) => h("li", {}, i)));

  // --- lines that card and detail share ---

  function requestLine(e) {
    if (!e.request) return "";
    const r = e.request;
    return h("p", { class: r.unanswered ? "pressing" : "" },
      h("strong", {}, `${r.urgency.toUpperCase()} evacuation, ${e.evacuation}`), ", asked ",
      ticking(() => `${clock.time(r.asked_s)}, ${span(clock.now_s() - r.asked_s)} ago`),
      r.unanswered ? h("strong", {}, " - NOBODY HAS ANSWERED") : "",
      r.level_withdrawn ? h("strong", {}, "; the conscious level in the request was WITHDRAWN") : "",
      r.eta_s ? h("span", {}, `; expected ${clock.time(r.eta_s)} ${r.eta_whom}`,
        r.eta_read_back ? ", read back" : h("strong", {}, ", NOT READ BACK")) : "");
  }

  function handedLine(e) {
    const last = (e.handovers || []).filter((row) => !row.voided).pop();
    return last ? h("p", {}, h("strong", {}, "HANDED OVER "), `${clock.time(last.happened_s)} to ` +
      `${last.team}, taken over by ${last.taken_by}` + (last.sheet ? `, sheet ${last.sheet}` : "")) : "";
  }

  function newsLine(e) {
    if (!e.word_s) return h("p", {}, "no word from the camp yet");
    return h("p", {}, "Last word from the camp ", h("span", { class: "value" },
      ticking(() => age(e.word_s))), ` (${clock.time(e.word_s)})`,
    e.condition ? h("span", {}, "; condition ", h("strong", {}, e.condition), " ",
      ticking(() => `(${age(e.condition_s)})`)) : "");
  }

  function chamberLine(e) {
    const c = e.course;
    if (c.sessions === 0) return "";
    if (!c.inside) {
      return h("p", {}, `Out of the chamber after ${c.sessions} ` +
        `${c.sessions === 1 ? "session" : "sessions"}, ${span(c.total_s)} at pressure in all`);
    }
    const until_s = station.viewed_s() + c.session_left_s;
    // In a hold the time at pressure runs on; in one on the way up it has not begun.
    const counts = c.phase === "at pressure" || (c.phase === "hold" && c.session_s > 0);
    return h("p", {}, `Chamber session ${c.session}: `, h("strong", {}, c.phase), " for ",
      h("span", { class: "value" }, ticking(() => running(clock.now_s() - c.phase_since_s))),
      counts ? ticking(() => (clock.now_s() < until_s
        ? `, ${span(until_s - clock.now_s())} of this session left`
        : ", THE SESSION'S TIME IS OVER")) : "");
  }

  // What was taken together is shown together, each set with its mode and age.
  function signsLine(e, keys) {
    const sets = [];
    const absent = [];
    for (const [key, name, show] of signs.filter((row) => keys.includes(row[0]))) {
      const sign = e.signs[key];
      if (!sign) {
        absent.push(name);
        continue;
      }
      const set = sets.find((s) => s.taken_s === sign.taken_s && s.mode === sign.mode);
      const text = key === "acvpu" ? show(sign.value, sign) : `${name} ${show(sign.value, sign)}`;
      if (set) set.texts.push(text);
      else sets.push({ taken_s: sign.taken_s, mode: sign.mode, texts: [text] });
    }
    return h("p", {}, ...sets.map((set) => h("span", {}, h("span", { class: "value" },
      set.texts.join(", ")), " ", h("span", { class: "small" },
      ticking(() => `${set.mode}, ${age(set.taken_s)}`)), set === sets[sets.length - 1] ? "" : "; ")),
    absent.length ? h("span", { class: "small" }, `${sets.length ? "; " : ""}not measured: ${absent.join(", ")}`)
      : "");
  }

  // --- the card in the list ---

  // What a person must do, in a line; the rest is with the patient.
  function must(e) {
    const sounding = e.alarms.filter((a) => a.sounds);
    const more = (n) => (n > 0 ? `; ${n} more ${n === 1 ? "alarm sounds" : "alarms sound"}` : "");
    const r = e.request;
    const level = r && r.level_withdrawn ? h("strong", {}, "; its conscious level was WITHDRAWN") : "";
    if (r && r.unanswered) {
      return h("p", { class: "pressing" }, h("strong", {}, "Answer: ", r.urgency.toUpperCase(), " evacuation"),
        level, ", ", ticking(() => `asked ${span(clock.now_s() - r.asked_s)} ago`),
        more(sounding.filter((a) => a.rule !== "request").length));
    }
    if (sounding.length) {
      return h("p", { class: "pressing" }, h("strong", {}, sounding[0].reason), more(sounding.length - 1));
    }
    if (e.need === "word") return h("p", {}, h("strong", {}, "Call the camp: a report is late"));
    if (r && e.evacuation !== "handed over") {
      return h("p", {}, `${r.urgency.toUpperCase()} ${e.evacuation}`, level,
        r.eta_s ? `; expected ${clock.time(r.eta_s)}${r.eta_read_back ? "" : ", NOT READ BACK"}` : "");
    }
    return "";
  }
  function due(e) {
    const due_s = e.next_report_s || e.obs_due_s;
    return due_s && !e.closed ? ticking(() => `; next due ${clock.time(due_s)}` +
      (due_s < clock.now_s() ? " - LATE" : "")) : "";
  }

  function card(e, picked) {
    const link = h("a", { class: `card need-${e.need || "none"}`, href: `#${e.name}` },
      h("span", { class: "card-head" },
        h("span", { class: "badge" }, needWords[e.need]), h("strong", {}, title(e)),
        h("span", { class: "small" }, e.label),
        e.exercise ? h("span", { class: "badge" }, "EXERCISE") : ""),
      must(e), e.course.inside ? chamberLine(e) : "",
      h("p", {}, e.word_s ? ticking(() => `Last word ${age(e.word_s)}`) : "No word from the camp yet",
        e.condition ? h("span", {}, ", ", h("strong", {}, e.condition), e.condition_s === e.word_s ? ""
          : ticking(() => ` ${age(e.condition_s)}`)) : "", due(e)),
      signsLine(e, ["spo2_pct", "pulse_bpm", "acvpu"]));
    if (picked) link.setAttribute("aria-current", "true");
    link.dataset.keep = `card-${e.name}`;
    return link;
  }

  // --- the detail ---

  const place = (lat_e6, lon_e6) => `${(lat_e6 / 1e6).toFixed(6)}, ${(lon_e6 / 1e6).toFixed(6)}`;
  const askedRows = [["mobility", "Patient", (v) => v], ["patients", "Patients", (v) => v],
    ["weight_kg", "Weight with kit", (v) => `${v} kg`], ["conscious", "Conscious", (v) => v],
    ["oxygen", "Needs oxygen", (v) => v], ["flat", "Must lie flat", (v) => v],
    ["needs", "To bring", (v) => v], ["altitude_m", "Height", (v) => `${v} m`],
    ["utm", "UTM", (v) => v], ["mgrs", "MGRS", (v) => v], ["surface", "Surface", (v) => v],
    ["slope_deg", "Slope", (v) => `${v}\u00b0`], ["obstacles", "Obstacles", (v) => v],
    ["gust_kmh", "Gusts", (v) => `${v} km/h`], ["temp_c", "Temperature", (v) => `${v} \u00b0C`],
    ["visibility_m", "Visibility", (v) => `${v} m`],
    ["cloud_base_m", "Cloud base", (v) => `${v} m above sea`], ["weather", "Weather", (v) => v],
    ["hazards", "Hazards", (v) => v], ["contact", "Reach the party", (v) => v],
    ["length_m", "Site", (v, a) => `${v} x ${a.width_m} m`],
    ["marked", "Site marked", (v) => v], ["at_lat_e6", "The patient is at", (v, a) => place(v, a.at_lon_e6)],
    ["daylight_s", "Daylight until", (v) => clock.time(v)], ["insurance", "Insurance", (v) => v],
    ["party", "Staying behind", (v) => `${v} people`], ["fallback", "If nobody comes", (v) => v]];

  function asked(e) {
    if (!e.asked) return "";
    const a = e.asked;
    const list = h("dl", { class: "asked" });
    // As old as what it says is: what a revision repeats, nobody has looked at again.
    const add = (name, text, told_s) => list.append(h("div", {}, h("dt", {}, name), h("dd", {}, text, " ",
      h("span", { class: "small" }, ticking(() => age(told_s))))));
    const told = a.told_s;
    if (Number.isFinite(a.lat_e6)) {
      add("Landing place", place(a.lat_e6, a.lon_e6), Math.max(told.lat_e6, told.lon_e6));
    }
    if (Number.isFinite(a.wind_kmh)) {
      add("Wind", `${a.wind_kmh} km/h` + (Number.isFinite(a.wind_from_deg)
        ? ` from ${a.wind_from_deg}\u00b0 true` : ""), Math.min(told.wind_kmh, told.wind_from_deg ?? Infinity));
    }
    askedRows.filter(([key]) => a[key] !== undefined)
      .forEach(([key, name, show]) => add(name, show(a[key], a), told[key]));
    return h("div", {}, list, a.gaps.length
      ? h("p", {}, h("strong", {}, "Not told: "), a.gaps.join(", ")) : "");
  }

  function answers(e) {
    if (!e.answers.length) return "";
    return h("div", {}, h("h4", {}, "Answers given"),
      listOf(e.answers.slice().reverse().map((a) => mended(a, h("strong", {}, a.kind), a.eta_s ? ` ${clock.time(a.eta_s)}` : "",
        ` ${[a.whom, a.text].filter(Boolean).join(": ")} `,
        h("span", { class: "small" }, `${a.by}, ${clock.time(a.recorded_s)}`,
          a.kind === "seen" ? ""
            : a.read_back ? ", read back" : ", NOT READ BACK")))));
  }

  function evacuation(e, buttons) {
    return box("Evacuation", "evacuation",
      e.request ? requestLine(e) : h("p", {}, `Evacuation: ${e.evacuation}`),
      handedLine(e), buttons, asked(e), answers(e));
  }

  function dues(e) {
    const c = e.course;
    const items = e.drugs_due.map((d) => ticking(() => `${d.drug}: interval over ` +
      `${clock.time(d.due_s)}${clock.now_s() > d.due_s ? " - OVERDUE" : ""}, given ` +
      `${clock.time(d.last_s)}${d.reviewed ? "" : " (protocol table NOT REVIEWED)"}`));
    if (c.why_not_due && !c.inside && c.sessions > 0) {
      items.push("\"Why not down?\" is to be answered before the next session");
    }
    if (c.rebound) {
      items.push(`Watch for relapse until ${clock.time(c.rebound_until_s)}, next check ` +
        clock.time(c.rebound_check_s));
    }
    if (c.last_start_s) {
      items.push(ticking(() => (c.last_start_s > clock.now_s() ? "Last safe start down "
        : "TOO LATE to start down in daylight: it was ") + clock.time(c.last_start_s)));
    }
    if (c.pumping) {
      items.push(ticking(() => `Pump: ${c.pumping.strokes} strokes told, ` +
        `${(c.pumping.rate_dpm / 10).toFixed(1)} /min, last ${age(c.pumping.last_s)}` +
        (c.pumping.pumper ? `, ${c.pumping.pumper}` : "")));
    }
    if (c.head_up) items.push("In the chamber with HAPE suspected: is the head end raised?");
    return items;
  }

  function now(e) {
    const items = dues(e);
    const o = e.assessed;
    if (o.oxygen_until_s) {
      items.push(ticking(() => (o.oxygen_until_s > clock.now_s()
        ? `Oxygen lasts until ${clock.time(o.oxygen_until_s)}, ` +
          `${span(o.oxygen_until_s - clock.now_s())}`
        : `OXYGEN WAS TO LAST UNTIL ${clock.time(o.oxygen_until_s)}`)));
    }
    return box("Now and due", "now", newsLine(e), chamberLine(e),
      items.length ? listOf(items) : h("p", { class: "small" }, "nothing is known to be due"),
      h("p", { class: "small" }, "A chamber is never a substitute for descent."));
  }

  function values(e) {
    const list = h("dl", { class: "pairs" });
    for (const [key, name, show] of signs) {
      const sign = e.signs[key];
      list.append(h("dt", {}, name), sign ? h("dd", {}, h("span", { class: "value" },
        show(sign.value, sign)), " ", h("span", { class: "small" },
        ticking(() => `${sign.mode}, ${age(sign.taken_s)}`)))
        : h("dd", { class: "small" }, "not measured"));
    }
    const bp = e.signs.systolic_mmhg;
    list.append(h("dt", {}, "Blood pressure"), bp ? h("dd", {}, h("span", { class: "value" },
      `${bp.value}/${e.signs.diastolic_mmhg ? e.signs.diastolic_mmhg.value : "?"} mmHg`), " ",
    h("span", { class: "small" }, ticking(() => `${bp.mode}, ${age(bp.taken_s)}`)))
      : h("dd", { class: "small" }, "not measured"));
    return box("Last values", "values", list);
  }

  function given(e) {
    const doses = e.doses.slice().reverse().map((d) => mended(d, h("strong", {}, d.name),
      ` ${d.dose_text || ""} ${d.route || ""} ${d.text || ""}`, h("span", { class: "small" }, " ",
        ticking(() => `${clock.time(d.happened_s)}, ${age(d.happened_s)}`),
        d.checker ? `, checked by ${d.checker}` : ", NOT CHECKED by a second person",
        d.refused ? ", REFUSED" : "")));
    const oxygen = e.oxygen.slice(-3).reverse().map((o) => mended(o, "oxygen ",
      h("strong", {}, o.action), ` ${o.device || ""}`,
      Number.isFinite(o.flow_dlpm) ? ` ${(o.flow_dlpm / 10).toFixed(1)} L/min` : "",
      Number.isFinite(o.cylinder_bar) ? ` cylinder ${o.cylinder || ""} ${o.cylinder_bar} bar` : "",
      h("span", { class: "small" }, " ", ticking(() =>
        `${clock.time(o.happened_s)}, ${age(o.happened_s)}`))));
    return box("Given", "given",
      h("p", {}, "Allergies: ", h("strong", {}, e.background.allergies)),
      listOf([...doses, ...oxygen]), doses.length ? "" : h("p", { class: "small" },
        "no drug is recorded"));
  }

  function missing(e, may) {
    const o = e.assessed;
    const entered = e.missing.map((m) => (may && panelFor(m)
      ? h("a", { class: "button", href: `#${e.name}/voice/${panelFor(m)}` }, m) : m));
    const items = [...entered, ...o.conflicts.map((c) => `CONFLICT: ${c.what} ` +
      `(${c.earlier}${c.earlier === c.later ? "" : ` and ${c.later}`})`)];
    return items.length ? box("Missing or in conflict", "missing", listOf(items)) : "";
  }

  function reckoned(e) {
    if (!e.assessed.text) return "";
    return box("Computed from the records", "computed", h("pre", { tabIndex: 0 },
      e.assessed.text.replace(/^ {5}/gm, "")),
    h("p", { class: "small" }, "Estimates and scores; no diagnosis, no advice."));
  }

  function told(e) {
    const background = [["history", "History"], ["medicines", "Medicines"],
      ["last_meal", "Last meal"], ["contact", "Contact"]];
    const list = h("dl", { class: "pairs" });
    background.forEach(([key, name]) => list.append(h("dt", {}, name),
      h("dd", {}, e.background[key])));
    if (e.background.onset_s) {
      list.append(h("dt", {}, "Onset"), h("dd", {}, ticking(() =>
        `${clock.time(e.background.onset_s)}, ${span(clock.now_s() - e.background.onset_s)} ago`)));
    }
    return box("Background and notes", "told", list,
      listOf(e.notes.slice().reverse().map((n) => mended(n, n.text, h("span",
        { class: "small" }, ` ${n.by}, ${clock.time(n.happened_s)}`)))));
  }

  function history(e) {
    const holder = h("div", { class: "trend" });
    const details = h("details", {}, h("summary", {}, "The same as a table"), trend.asTable(e));
    details.dataset.keep = "trend-table";
    return box("Trend: like with like", "trend", holder, trend.legend(e), details);
  }
  // Drawn once the box is on the page and has its width.
  function drawTrend(root, e) {
    const holder = root.querySelector(".trend");
    if (holder) holder.replaceChildren(trend.draw(e, Math.max(280, holder.clientWidth)));
  }

  return { title, card, evacuation, now, values, given, missing, reckoned, told, history, drawTrend };
})();
