"use strict";
// The links of this station: stations at their height, a line per link with the share of frames
// that get through each way and how long ago the other was heard. The same as a table.
const links = (() => {
  const QUIET_S = 1800; // longer without a word: the line is broken up (ours)
  const TOP = 34;
  const BOTTOM = 40;

  // Those that are heard or have told of themselves, and those of which only records are here.
  function known(view) {
    const told = view.stations.filter((s) => s.station !== view.self.station);
    const numbers = new Set([view.self, ...told].map((s) => s.station));
    const others = new Set(view.episodes.map((e) => e.station).filter((n) => !numbers.has(n)));
    return [...told, ...[...others].map((station) => ({ station, name: "", role: "", by_records: true }))];
  }
  const title = (s) => `${s.station} ${s.name}`.trim();
  const roleOf = (s) => (s.by_records ? "known only by its records" : s.role || "role not known");
  // Net time of the last record of its own that is here.
  function word_s(view, station) {
    const times = view.episodes.filter((e) => e.station === station && e.word_s).map((e) => e.word_s);
    return times.length ? Math.max(...times) : 0;
  }

  function heightOf(view, station) {
    return station.altitude_m === undefined ? view.self.altitude_m : station.altitude_m;
  }

  // Where each is drawn: by height, side by side in the order of it.
  function places(view, width, height) {
    const others = known(view).slice().sort((a, b) =>
      (heightOf(view, a) || 0) - (heightOf(view, b) || 0));
    const heights = [view.self, ...others].map((s) => heightOf(view, s)).filter(Number.isFinite);
    const low = Math.min(...heights);
    const high = Math.max(...heights);
    const y = (m) => (Number.isFinite(m) && high > low
      ? TOP + (height - TOP - BOTTOM) * (1 - (m - low) / (high - low)) : height - BOTTOM);
    const x = (i) => (others.length === 0 ? width / 2
      : 70 + ((width - 140) * i) / others.length);
    return [{ station: view.self, self: true, x: x(0), y: y(view.self.altitude_m) },
      ...others.map((s, i) => ({ station: s, x: x(i + 1), y: y(heightOf(view, s)) }))];
  }

  function drawLink(from, to) {
    const s = to.station;
    const quiet = s.heard_age_s > QUIET_S;
    const x = (from.x + to.x) / 2;
    const y = (from.y + to.y) / 2;
    return svg("g", {}, svg("line", { class: quiet ? "link quiet" : "link", x1: from.x, y1: from.y,
      x2: to.x, y2: to.y, "stroke-width": 2 + Math.round(Math.min(s.in_pct, s.out_pct) / 20) }),
    drawnText(x, y - 6, `in ${s.in_pct} %, out ${s.out_pct} %`, { class: "strong tag",
      "text-anchor": "middle" }),
    drawnText(x, y + 12, `heard ${span(s.heard_age_s)} ago`, { class: "tag",
      "text-anchor": "middle" }));
  }

  function drawStation(place, width) {
    const s = place.station;
    const anchor = place.x < 130 ? "start" : place.x > width - 130 ? "end" : "middle";
    const x = anchor === "start" ? place.x - 12 : anchor === "end" ? place.x + 12 : place.x;
    const height = s.altitude_m === undefined ? "" : `, ${s.altitude_m} m`;
    return svg("g", {}, svg("circle", { class: place.self ? "self" : s.neighbour ? "near" : "far",
      cx: place.x, cy: place.y, r: 9 }),
    drawnText(x, place.y - 15, title(s), { class: "strong tag",
      "text-anchor": anchor }),
    drawnText(x, place.y + 25, `${roleOf(s)}${height}`, { class: "tag",
      "text-anchor": anchor }));
  }

  function draw(view, width) {
    const flat = new Set([view.self, ...known(view)].map((s) => heightOf(view, s))).size === 1;
    const height = flat ? 120 : Math.min(420, Math.max(340, Math.round(width * 0.45)));
    const all = places(view, width, height);
    return drawing("links-title", "Stations by height and the links of this one; the table holds " +
      "the same", width, height,
    ...all.slice(1).filter((p) => p.station.neighbour).map((p) => drawLink(all[0], p)),
    ...all.map((p) => drawStation(p, width)));
  }

  function asTable(view) {
    const show = (v, unit) => (v === undefined ? "-" : `${v} ${unit}`);
    const rows = known(view).map((s) => [title(s), roleOf(s), show(s.altitude_m, "m"),
      s.neighbour ? `${span(s.heard_age_s)} ago` : "not heard directly",
      word_s(view, s.station) ? ticking(() => `${span(clock.now_s() - word_s(view, s.station))} ago`) : "-",
      s.neighbour ? `${s.in_pct} % (${100 - s.in_pct} % lost)` : "-",
      s.neighbour ? `${s.out_pct} % (${100 - s.out_pct} % lost)` : "-",
      s.rssi_dbm === undefined ? "-" : `${s.rssi_dbm} dBm, ${s.snr_db} dB`,
      show(s.battery_pct, "%")]);
    return table("Stations known here", ["Station", "Role", "Height", "Heard", "Last record", "Frames in",
      "Frames out", "Signal, SNR", "Battery"], rows);
  }

  // Since when nothing has come from where each patient is.
  function camps(view) {
    return h("ul", { class: "plain" }, ...view.episodes.filter((e) =>
      !e.closed && e.station !== view.self.station).map((e) => {
      const camp = known(view).find((s) => s.station === e.station);
      return h("li", {}, `${patient.title(e)}: `, e.word_s ? h("span", {}, "the patient's camp, ",
        h("strong", {}, title(camp)), ", was last heard ", ticking(() =>
          `${span(clock.now_s() - e.word_s)} ago (${clock.time(e.word_s)})`))
        : "no word from the patient's camp yet");
    }));
  }

  function own(view) {
    const s = view.self;
    const radio = s.radio_ready ? "ready" : s.fault || "not ready: entries are kept and sent later";
    return h("ul", { class: "plain" },
      h("li", {}, `This station: ${s.station} ${s.name}, ${s.role}`),
      h("li", {}, `Radio: ${radio}`),
      h("li", {}, `Waiting to be sent: ${s.queued}; transmit time left this hour: ` +
        `${Math.round(s.airtime_left_ms / 1000)} s, for urgent records ` +
        `${Math.round(s.airtime_left_urgent_ms / 1000)} s`),
      h("li", {}, s.clock_synced ? "Clock: synchronised"
        : "Clock: NOT SYNCHRONISED - compare with a watch"),
      s.clock_back_s ? h("li", {}, h("strong", {},
        `Clock: SET BACK by ${span(s.clock_back_s)}, found ${clock.time(s.clock_back_at_s)}`)) : "",
      s.same_station ? h("li", {}, h("strong", {}, "Another station uses this number")) : "",
      s.store_failures ? h("li", {}, h("strong", {},
        `The database could not be written ${s.store_failures} times`)) : "");
  }

  return { draw, asTable, camps, own };
})();
