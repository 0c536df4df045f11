"use strict";
// The trend of a patient, drawn: one small plot per sign, in it one line per mode (like with like),
// chamber sessions as bands, drugs as numbered lines, conscious level as letters; the axis ends now,
// so that silence is seen as empty space. The same as a table.
const trend = (() => {
  // Marks of a mode differ in shape and dash as well as in shade.
  const modes = {
    "on air": { mark: "round", dash: "" }, "on oxygen": { mark: "square", dash: "7 4" },
    "in chamber": { mark: "up", dash: "2 4" },
    "in chamber on oxygen": { mark: "turned", dash: "9 3 2 3" },
    "mode not said": { mark: "cross", dash: "1 6" },
  };
  const plots = [
    { key: "spo2_pct", name: "SpO2 %", low: 50, high: 100, step: 10 },
    { key: "pulse_bpm", name: "Pulse /min", low: 60, high: 140, step: 20 },
    { key: "resp_rpm", name: "Breaths /min", low: 10, high: 40, step: 10 },
  ];
  const letters = { "alert": "A", "new confusion": "C", "responds to voice": "V",
    "responds to pain": "P", "unresponsive": "U" };
  // Points further apart are not joined: nobody knows what was between (ours).
  const JOIN_S = 90 * 60;
  const LEFT = 44;
  const RIGHT = 14;
  const ROW = 104;
  const LETTER = 14;

  function mark(kind, x, y) {
    const shapes = {
      round: () => svg("circle", { cx: x, cy: y, r: 4 }),
      square: () => svg("rect", { x: x - 4, y: y - 4, width: 8, height: 8 }),
      up: () => svg("path", { d: `M${x} ${y - 5}l5 9h-10z` }),
      turned: () => svg("path", { d: `M${x} ${y - 6}l6 6l-6 6l-6 -6z` }),
      cross: () => svg("path", { d: `M${x - 4} ${y - 4}l8 8m0 -8l-8 8` }),
    };
    return shapes[kind]();
  }

  const LEAST_S = 5 * 60;
  // From the first thing shown to now.
  function timesOf(episode) {
    const all = [...episode.observations.filter((o) => !o.voided).map((o) => o.taken_s),
      ...episode.doses.filter((d) => !d.voided && !d.refused).map((d) => d.happened_s),
      ...episode.sessions.flatMap((s) => [s.closed_s, s.pressurising_s, s.at_pressure_s])]
      .filter((t) => t);
    const to = clock.now_s();
    return { from: Math.min(to - LEAST_S, ...all), to };
  }

  function hourStep(seconds) {
    return [60, 300, 600, 1800, 3600, 2 * 3600, 4 * 3600, 6 * 3600, 12 * 3600, 24 * 3600]
      .find((step) => seconds / step <= 8) || 48 * 3600;
  }

  function rangeOf(plot, observations) {
    const values = observations.map((o) => o[plot.key]).filter(Number.isFinite);
    const down = (v) => Math.floor(v / plot.step) * plot.step;
    const up = (v) => Math.ceil(v / plot.step) * plot.step;
    return { low: Math.min(plot.low, ...values.map(down)),
      high: Math.max(plot.high, ...values.map(up)) };
  }

  function drawPlot(plot, observations, top, x, width) {
    const group = svg("g", { class: "plot" });
    const { low, high } = rangeOf(plot, observations);
    const y = (v) => top + 18 + (ROW - 26) * (1 - (v - low) / (high - low));
    group.append(drawnText(LEFT, top + 11, plot.name, { class: "strong" }));
    for (let v = low; v <= high; v += plot.step * (high - low > plot.step * 5 ? 2 : 1)) {
      group.append(svg("line", { class: "grid", x1: LEFT, x2: width - RIGHT, y1: y(v), y2: y(v) }),
        drawnText(LEFT - 6, y(v) + 4, v, { "text-anchor": "end" }));
    }
    let newest = null;
    for (const [mode, style] of Object.entries(modes)) {
      const seen = observations.filter((o) => o.mode === mode && Number.isFinite(o[plot.key]));
      let path = "";
      seen.forEach((o, i) => {
        const joined = i > 0 && o.taken_s - seen[i - 1].taken_s <= JOIN_S;
        path += `${joined ? "L" : "M"}${x(o.taken_s)} ${y(o[plot.key])}`;
        if (!newest || o.taken_s > newest.taken_s) newest = o;
      });
      if (path) group.append(svg("path", { class: "line", d: path, "stroke-dasharray": style.dash }));
      group.append(...seen.map((o) => {
        const shape = mark(style.mark, x(o.taken_s), y(o[plot.key]));
        shape.setAttribute("class", "mark");
        return shape;
      }));
    }
    if (newest) {
      const left = x(newest.taken_s) > width - 60;
      group.append(drawnText(x(newest.taken_s) + (left ? -9 : 9), y(newest[plot.key]) - 7,
        newest[plot.key], { class: "strong tag", "text-anchor": left ? "end" : "start" }));
    } else {
      group.append(drawnText(LEFT + 8, top + 44, "not measured"));
    }
    return group;
  }

  function drawSessions(episode, x, top, bottom, width) {
    return episode.sessions.map((s) => {
      const from = s.closed_s || s.pressurising_s || s.at_pressure_s;
      if (!from) return "";
      const to = s.out_s || clock.now_s();
      return svg("g", {}, svg("rect", { class: "inside", x: x(from), y: top,
        width: Math.max(2, x(to) - x(from)), height: bottom - top }),
      x(from) > width - 80
        ? drawnText(width - RIGHT, top - 4, `chamber ${s.session}`, { "text-anchor": "end" })
        : drawnText(x(from) + 3, top - 4, `chamber ${s.session}`));
    });
  }

  function drawLevels(observations, x, top) {
    // No letter lies on another: one that says the same is left out, another one is set below.
    const ends = [-LETTER, -LETTER];
    let said = "";
    const shown = observations.filter((o) => o.acvpu).map((o) => {
      const at = x(o.taken_s);
      const row = at - ends[0] >= LETTER ? 0 : 1;
      if (at - ends[row] < LETTER || (row === 1 && o.acvpu === said)) return "";
      ends[row] = at;
      said = o.acvpu;
      return drawnText(at, top + 14 + row * LETTER, letters[o.acvpu] || "?",
        { class: "strong tag", "text-anchor": "middle" });
    });
    return svg("g", {}, drawnText(LEFT - 6, top + 14, "Level", { "text-anchor": "end" }), ...shown);
  }

  function draw(episode, width) {
    const observations = episode.observations.filter((o) => !o.voided);
    const { from, to } = timesOf(episode);
    const x = (t) => LEFT + (width - LEFT - RIGHT) * ((t - from) / (to - from));
    const top = 22;
    const bottom = top + ROW * plots.length + 22 + LETTER;
    const doses = episode.doses.filter((d) => !d.voided && !d.refused);
    const step = hourStep(to - from);
    const parts = [...drawSessions(episode, x, top, bottom, width)];
    for (let t = Math.ceil(from / step) * step; t <= to; t += step) {
      const room = x(t) < width - RIGHT - 36;
      parts.push(svg("line", { class: "grid", x1: x(t), x2: x(t), y1: bottom, y2: bottom + 5 }),
        room ? drawnText(x(t), bottom + 22, clock.time(t).slice(-6), { "text-anchor": "middle" })
          : "");
    }
    parts.push(drawnText(width - RIGHT, bottom + 22, "now", { class: "strong",
      "text-anchor": "end" }));
    doses.forEach((d, i) => parts.push(
      svg("line", { class: "dose", x1: x(d.happened_s), x2: x(d.happened_s), y1: top, y2: bottom }),
      svg("circle", { class: "dose", cx: x(d.happened_s), cy: bottom - 1, r: 8 }),
      drawnText(x(d.happened_s), bottom + 3, i + 1, { class: "number", "text-anchor": "middle" })));
    plots.forEach((plot, i) => parts.push(drawPlot(plot, observations, top + i * ROW, x, width)));
    parts.push(drawLevels(observations, x, top + plots.length * ROW));
    return drawing("trend-title", `Trend of ${episode.patient}, ${clock.time(from)} to now; the ` +
      "table below holds the same values", width, bottom + 28, ...parts);
  }

  function legend(episode) {
    const used = Object.entries(modes).filter(([mode]) =>
      episode.observations.some((o) => !o.voided && o.mode === mode));
    const doses = episode.doses.filter((d) => !d.voided && !d.refused);
    return h("ul", { class: "legend" }, ...used.map(([mode, style]) => {
      const shape = mark(style.mark, 18, 8);
      shape.setAttribute("class", "mark");
      return h("li", {}, svg("svg", { class: "drawing", width: 36, height: 16, "aria-hidden": "true" },
        svg("path", { class: "line", d: "M2 8H34", "stroke-dasharray": style.dash }), shape), mode);
    }), ...doses.map((d, i) => h("li", {}, h("strong", {}, `(${i + 1}) `),
      `${d.name} ${clock.time(d.happened_s)}`)));
  }

  function asTable(episode) {
    const show = (v) => (v === undefined ? "-" : String(v));
    const rows = episode.observations.map((o) => [clock.time(o.taken_s), o.mode, show(o.spo2_pct),
      show(o.pulse_bpm), show(o.resp_rpm), show(o.acvpu),
      Number.isFinite(o.systolic_mmhg) ? `${o.systolic_mmhg}/${show(o.diastolic_mmhg)}` : "-",
      Number.isFinite(o.temp_dc) ? (o.temp_dc / 10).toFixed(1) : "-",
      (o.voided ? "corrected" : o.via === "entered" ? o.by : `${o.by} (${o.via})`) +
        (o.late ? ", AFTER THE HANDOVER" : "")]).reverse();
    return table("Observations, newest first", ["Time", "Mode", "SpO2 %", "Pulse", "Breaths",
      "Level", "BP mmHg", "Temp \u00b0C", "By"], rows);
  }

  return { draw, legend, asTable };
})();
