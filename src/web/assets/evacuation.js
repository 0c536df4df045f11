"use strict";
// The request for evacuation asks for the gaps only: what the request in force tells is folded away,
// to be changed there. Panels as in panels.js.
const evacuation = (() => {
  const yesNo = [["yes", "Yes"], ["no", "No"]];
  const unset = "not said";

  // Each ask: which field of the blank form, whether it is told already, its controls, its words.
  const said = (word, control) => () => (control.value ? [word, control.value] : []);
  const counted = (word, control, unit = "") => () =>
    (control.value === null ? [] : [word, `${control.value}${unit}`]);

  function pilotAsks(told, { now, episode, here }) {
    const mobility = choices("Patient", [["stretcher", "Stretcher"], ["sitting", "Can sit"],
      ["walking", "Walks"]]);
    const oxygen = choices("Needs oxygen in the aircraft?", yesNo,
      !now && modeNow(episode).includes("oxygen") ? "yes" : "");
    const near = choices("Where is the landing place?", here ? [[here, `At this camp, ${here.replace(",", ", ")}`]] : []);
    const site = typed(here ? "Its position, if another" : "Position of the landing place",
      { example: "28.10460,86.75310" });
    const surface = choices("Landing place", [["snow", "Snow"], ["ice", "Ice"], ["rock", "Rock"],
      ["grass", "Grass"], ["sand", "Sand"]]);
    const wind = stepper("Wind, km/h", { from: 10, min: 0, max: 200, step: 5, unset });
    const from = choices("Wind from", [["0", "N"], ["45", "NE"], ["90", "E"], ["135", "SE"],
      ["180", "S"], ["225", "SW"], ["270", "W"], ["315", "NW"]]);
    from.element.classList.add("quarters");
    const sight = choices("How far can you see?", [["500m", "Under 1 km"], ["3km", "1 to 5 km"],
      ["10km", "More"]]);
    const cloud = stepper("Cloud base, m above sea", { from: told.altitude_m || 6000, min: 0,
      max: 12000, step: 100, unset });
    const hazard = several("Hazards", [["none seen", "None seen"], ["loose snow", "Loose snow"],
      ["wires", "Wires"], ["slope", "Slope"], ["rockfall", "Rockfall"], ["gusts", "Gusts"]]);
    const hazards = typed("Other hazards", { example: "prayer flags" });
    const contact = typed("How to reach the party", { example: "145.500 MHz" });
    return [
      ["MOBILITY", told.mobility, [mobility], () => (mobility.value ? [mobility.value] : [])],
      ["OXYGEN_NEEDED", told.oxygen, [oxygen], said("oxygen", oxygen)],
      ["SITE", told.lat_e6, here ? [near, site] : [site], () => twice(near, site) ||
        (site.value || near.value ? ["site", site.value || near.value] : [])],
      ["SURFACE", told.surface, [surface], said("surface", surface)],
      ["WIND", told.wind_kmh, [wind], counted("wind", wind, "km/h")],
      ["WIND_FROM", told.wind_from_deg, [from], said("from", from)],
      ["VISIBILITY", told.visibility_m, [sight], said("visibility", sight)],
      ["CLOUD", told.cloud_base_m, [cloud], counted("cloud", cloud, "m")],
      ["HAZARDS", told.hazards, [hazard, hazards], () => {
        const seen = [hazard.value.replaceAll(",", ", "), hazards.value].filter(Boolean).join(", ");
        return seen ? ["hazards", seen] : [];
      }],
      ["CONTACT", told.contact, [contact], said("contact", contact)],
    ];
  }

  function crewAsks(told, { now, self }) {
    const weight = stepper("Weight with kit, kg", { from: 80, min: 2, max: 250, unset });
    const flat = choices("Can lie flat?", yesNo);
    const conscious = choices("Is the patient conscious?", yesNo);
    const needs = several("What must come along", [["doctor", "Doctor"], ["oxygen", "Oxygen"],
      ["stretcher", "Stretcher"], ["hoist", "Hoist"]]);
    const patients = stepper("How many patients", { from: 1, min: 1, max: 50, unset });
    const party = stepper("How many people stay behind", { from: 2, min: 0, max: 100, unset });
    const place = typed("Position of the patient", { example: "28.10410,86.75230" });
    const height = stepper("Height of the patient, m", { from: self.altitude_m || 5000, min: 0,
      max: 8900, step: 50, unset });
    const long = stepper("Landing place, length, m", { from: 30, min: 1, max: 1000, step: 5, unset });
    const wide = stepper("Landing place, width, m", { from: 30, min: 1, max: 1000, step: 5, unset });
    const slope = stepper("Its slope, degrees", { from: 5, min: 0, max: 60, unset });
    const obstacles = typed("Obstacles near it", { example: "prayer flags north; or: none seen" });
    const marked = choices("Is it marked?", yesNo);
    const gust = stepper("Gusts, km/h", { from: 20, min: 0, max: 250, step: 5, unset });
    const air = stepper("Air temperature, \u00b0C", { from: -10, min: -70, max: 50 });
    const sky = typed("Weather and its trend", { example: "clear, steady" });
    const light = typed("Light ends, UTC with Z", { example: "11:45Z" });
    const fallback = typed("If nobody comes", { example: "carry down at first light" });
    const paid = typed("Insurance (none, or which)", { example: "none" });
    // The station starts a first request from its own place.
    const placed = !now && Number.isFinite(self.lat_e6);
    const high = !now && Number.isFinite(self.altitude_m);
    return [
      ["WEIGHT", told.weight_kg, [weight], counted("weight", weight, "kg")],
      ["FLAT", told.flat, [flat], said("flat", flat)],
      ["CONSCIOUS", told.conscious, [conscious], said("conscious", conscious)],
      ["NEEDS", told.needs, [needs], said("needs", needs)],
      ["PATIENTS", now ? told.patients : 1, [patients], counted("patients", patients)],
      ["PARTY", told.party, [party], counted("party", party)],
      ["POSITION", placed || told.at_lat_e6, [place], said("at", place)],
      ["ALTITUDE", high || told.altitude_m, [height], counted("altitude", height, "m")],
      ["AREA", told.length_m, [long, wide], () => {
        if ((long.value === null) !== (wide.value === null)) {
          return amiss(long.value === null ? long : wide, "Length and width, or neither.");
        }
        return long.value === null ? [] : ["area", `${long.value}x${wide.value}`];
      }],
      ["SLOPE", told.slope_deg, [slope], counted("slope", slope)],
      ["OBSTACLES", told.obstacles, [obstacles], said("obstacles", obstacles)],
      ["MARKED", told.marked, [marked], said("marked", marked)],
      ["GUST", told.gust_kmh, [gust], counted("gust", gust, "km/h")],
      ["AIR", told.temp_c, [air], counted("temp", air, "C")],
      ["SKY", told.weather, [sky], said("weather", sky)],
      ["DAYLIGHT", told.daylight_s, [light], () => (light.value && !/^\d\d?:\d\dZ$/i.test(light.value)
        ? amiss(light, "Light ends: a time in UTC, such as 11:45Z.") : said("daylight", light)())],
      ["FALLBACK", told.fallback, [fallback], said("fallback", fallback)],
      ["INSURANCE", told.insurance, [paid], said("insurance", paid)],
    ];
  }

  const isTold = ([, known]) => known !== undefined && known !== false;
  const controlsOf = (asks) => asks.flatMap(([, , controls]) => controls);

  return {
    title: "Evacuation",
    build({ episode, view, open }) {
      const now = episode.request;
      const told = episode.asked || {};
      // Base's own place is not the patient's.
      const self = view.self.role === "camp" ? view.self : {};
      const here = Number.isFinite(self.lat_e6)
        ? `${(self.lat_e6 / 1e6).toFixed(5)},${(self.lon_e6 / 1e6).toFixed(5)}` : "";
      const urgency = choices("How urgent?", [["e1", "E1 now: life in danger"],
        ["e2", "E2 within the hour"], ["e3", "E3 today"], ["e4", "E4 when possible"]],
      now ? now.urgency : "");
      const pilot = pilotAsks(told, { now, episode, here });
      const crew = crewAsks(told, { now, self });
      const asks = [...pilot, ...crew];
      const more = crew.filter((ask) => !isTold(ask));
      const known = [episode.signs.acvpu ? `conscious level ${episode.signs.acvpu.word}` : "",
        Number.isFinite(self.altitude_m) ? `height ${self.altitude_m} m` : "",
        told.mobility, told.surface].filter(Boolean);
      numbered([urgency, "request.URGENCY"], ...asks.flatMap(([key, , controls]) =>
        controls.map((control) => [control, `request.${key}`])));
      const fold = (name, some) => (some.length ? folded(name, ...controlsOf(some)).element : "");
      return {
        body: [h("p", {}, now ? "A request stands: what is filled in here changes it; the rest stays " +
          "as it was." : "It is repeated until base has it, and stands until base answers."),
        known.length ? h("p", { class: "small" }, `Known already: ${known.join(", ")}`) : "",
        urgency.element,
        ...controlsOf(pilot.filter((ask) => !isTold(ask))).map((control) => control.element),
        fold(`More that a crew asks (${more.length})`, more),
        fold(now ? "Change what was told" : "Change what is known", asks.filter(isTold)),
        now && open ? h("p", {}, h("button", { type: "button", onclick: () => open("cancel") },
          "Cancel the request ...")) : ""].filter(Boolean),
        words() {
          if (!urgency.value) return amiss(urgency, "Choose how urgent it is.");
          const parts = asks.map(([, , , words]) => words());
          const wrong = parts.find((part) => typeof part === "string");
          if (wrong) return wrong;
          const words = parts.flat();
          if (now && !words.length && urgency.value === now.urgency) return "Nothing is changed yet.";
          return [["evacuate", [episode.name, ...(now ? ["revise"] : []), urgency.value, ...words]]];
        },
      };
    },
  };
})();
