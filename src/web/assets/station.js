"use strict";
// Talking with the station: what it shows, what is entered, and what waits while it cannot be
// reached. Entries are kept in the browser's storage until the station has answered; each has a key
// of its own, so that one sent twice is recorded once.
const station = (() => {
  const WAITING = "ridgepost-waiting";
  const REMARKS = "ridgepost-remarks";
  const listeners = { view: [], waiting: [], line: [], recorded: [] };
  let sending = false;
  let viewedAt_s = 0;
  const patients = new Map(); // name of an episode: the patient's
  const PULSE_MS = 40000; // the station sends something every 15 s; two missed and a bit
  const ANSWER_MS = 8000; // no answer within this: none will come
  const DRAWN_MS = 40000; // a sheet is drawn by a program of its own
  const OLD_MS = 30000; // what is shown is asked for every 10 or 15 s

  const tell = (what, ...of) => listeners[what].forEach((f) => f(...of));

  // A moment, and how long ago it was. Clocks are set and devices sleep: whichever says more.
  const mark = () => ({ wall_ms: Date.now(), page_ms: performance.now() });
  const since_ms = ({ wall_ms, page_ms }) =>
    Math.max(Date.now() - wall_ms, performance.now() - page_ms);

  // Where the browser keeps nothing (no room, no leave), the list is this page's own.
  let unkept = null;
  function readKept(name) {
    try {
      return JSON.parse(localStorage.getItem(name)) || [];
    } catch {
      return [];
    }
  }
  const readWaiting = () => unkept || readKept(WAITING);
  function writeWaiting(list) {
    try {
      localStorage.setItem(WAITING, JSON.stringify(list));
      unkept = null;
    } catch {
      unkept = list;
    }
    tell("waiting");
  }

  function newKey() {
    const bytes = crypto.getRandomValues(new Uint8Array(12));
    return Array.from(bytes, (b) => b.toString(16).padStart(2, "0")).join("");
  }

  const PAGE = newKey(); // this page, until it is loaded again
  const episodeOf = (args) => args.map(String).find((word) => /^\d+-\d+$/.test(word)) || "";

  // --- the line: lost when a try has failed, and when what is shown has grown old ---

  let failed = false;
  let lost = false;
  let viewed = mark();
  function judge() {
    const now = failed || !paired || since_ms(viewed) > OLD_MS;
    if (now === lost) return;
    lost = now;
    tell("line");
  }
  function setFailed(now) {
    failed = now;
    judge();
  }

  // Without a session nothing is told any more. What somebody is about to enter is not taken away.
  let paired = true;
  let leaving = false;
  const isBusy = () => document.querySelector("#panel:not([hidden]) .bar, .form, dialog[open]") !== null;
  function setPaired(now) {
    if (!now && !isBusy()) {
      leaving = true;
      location.replace("/pair");
    }
    if (now === paired) return;
    paired = now;
    judge();
    tell("line");
  }

  // What a page sends has this header, which a foreign page cannot send without asking first.
  const sends = (body) => ({ method: "POST", body: JSON.stringify(body),
    headers: { "Content-Type": "application/json", "X-Ridgepost": "1" } });

  // Nothing is waited for without an end: read(answer) is part of it.
  async function reach(path, options, read, limit_ms = ANSWER_MS) {
    const end = new AbortController();
    const timer = setTimeout(() => end.abort(), limit_ms);
    try {
      const answer = await fetch(path, { cache: "no-store", ...options, signal: end.signal });
      setFailed(false);
      setPaired(answer.status !== 401);
      return await read(answer);
    } catch (problem) {
      if (end.signal.aborted) throw new Error("the station does not answer");
      if (problem instanceof TypeError) setFailed(true); // no connection (Fetch standard)
      throw problem;
    } finally {
      clearTimeout(timer);
    }
  }
  async function ask(path, options) {
    const reply = await reach(path, options, (answer) => answer.json());
    if (!reply.ok) {
      throw new Error(reply.error.text);
    }
    if (reply.data && reply.data.now_s) {
      (reply.data.episodes || []).forEach((e) => patients.set(e.name, e.patient));
      viewedAt_s = reply.data.now_s;
      viewed = mark();
      judge();
    }
    return reply;
  }
  const get = (path) => ask(path, {});
  // What is not only looked at: a sheet with a number of its own.
  const take = (path) => ask(path, sends({}));
  // A file, whole: { blob, headers }.
  const takeFile = (path) => reach(path, sends({}), async (answer) => {
    if (!answer.ok) throw new Error(await answer.text());
    return { headers: answer.headers, blob: await answer.blob() };
  }, DRAWN_MS);

  // How long an entry has waited. This device's clock may have been set meanwhile, and the page's own
  // may stand still while the device sleeps: where they differ, the station's time decides.
  const DIFFER_MS = 30000;
  async function waited_ms({ made_ms, made = { wall_ms: made_ms }, made_s, page }) {
    const wall_ms = Date.now() - made.wall_ms;
    if (page !== PAGE) return Math.max(0, wall_ms); // another page's clock is not known here
    const page_ms = performance.now() - made.page_ms;
    if (wall_ms - page_ms < DIFFER_MS) return page_ms;
    if (!made_s) return wall_ms;
    await get("/view");
    const told_ms = (viewedAt_s - made_s) * 1000;
    return Math.abs(told_ms - wall_ms) < Math.abs(told_ms - page_ms) ? wall_ms : page_ms;
  }

  // The station takes words as the command line does; what waited tells how long ago it was.
  async function post(entry) {
    const waited_min = Math.floor(await waited_ms(entry) / 60000);
    const body = { command: entry.command, args: entry.args };
    if (entry.key) body.key = entry.key;
    if (entry.by) body.by = entry.by;
    if (entry.via) body.via = entry.via;
    if (entry.sure) body.sure = true;
    if (entry.ago_min + waited_min > 0) body.ago = `${entry.ago_min + waited_min}min`;
    const busy = { ok: false, error: { code: "RP_E_BUSY", text: "the station is busy" } };
    return reach("/entry", sends(body), (answer) => (answer.status >= 500 ? busy : answer.json()));
  }

  function change(key, values) {
    writeWaiting(readWaiting().map((e) => (e.key === key ? { ...e, ...values } : e)));
  }
  function remove(key) {
    writeWaiting(readWaiting().filter((e) => e.key !== key));
  }

  // What the station said of a recorded entry: it stays on this device until a person has seen it.
  let remarks = readKept(REMARKS);
  function keepRemarks(list) {
    remarks = list;
    try {
      localStorage.setItem(REMARKS, JSON.stringify(list));
    } catch {
      // It stands as long as this page does.
    }
    tell("waiting");
  }
  function remark(entry, data) {
    const said = [data.remark, ...(data.conflicts || []).map((c) => `CONFLICT: ${c}`)].filter(Boolean)
      .map((text) => (entry.patient ? `${entry.patient}: ${text}` : text));
    if (said.length) keepRemarks([...new Set([...remarks, ...said])]);
  }

  // One that is held can still be stopped; never for longer, whatever this device's clock does.
  const HOLD_MS = 5000;
  const isHeld = (entry) => {
    const left_ms = (entry.hold_until_ms || 0) - Date.now();
    return left_ms > 0 && left_ms <= HOLD_MS;
  };

  // What stands in the way and may pass (include/ridgepost/error.h): the entry goes on waiting. Any
  // other refusal is about the entry itself.
  const PASSING = ["BUSY", "IO", "NO_SPACE", "MEMORY", "FULL", "PERMISSION", "TAKEN", "GONE",
    "TIMEOUT", "CORRUPT", "BUDGET"].map((word) => `RP_E_${word}`);
  const AGAIN_MS = 10000;
  const again = new Map(); // key of one in trouble: when it is tried again, by performance.now()
  const about = (entry) => episodeOf(entry.args) || entry.key;

  // In order; while one is in trouble those of the same patient stay behind it, but for a bounded
  // table that may be full for ever.
  function nextReady() {
    const stuck = new Set();
    return readWaiting().find((entry) => {
      if (entry.problem || isHeld(entry) || stuck.has(about(entry))) return false;
      if (!(again.get(entry.key) > performance.now())) return true;
      if (entry.trouble && entry.trouble.code !== "RP_E_FULL") stuck.add(about(entry));
      return false;
    });
  }

  async function sendOne(entry) {
    const reply = await post(entry);
    if (reply.ok) {
      remark(entry, reply.data || {});
      remove(entry.key);
      tell("recorded", entry, reply.data || {});
      tell("view");
    } else if (PASSING.includes(reply.error.code)) {
      again.set(entry.key, performance.now() + AGAIN_MS);
      change(entry.key, { trouble: reply.error });
    } else {
      change(entry.key, { problem: reply.error, trouble: null });
    }
  }

  // One at a time; a refused one stays and says why, and the next goes on. The lock keeps two pages
  // of one browser from sending the same list at once.
  async function sendAll() {
    if (sending) return;
    sending = true;
    try {
      const run = async () => {
        for (let entry = nextReady(); entry; entry = nextReady()) await sendOne(entry);
      };
      await (navigator.locks ? navigator.locks.request("ridgepost-send", { ifAvailable: true },
        (lock) => (lock ? run() : null)) : run()); // held: the other page sends
    } catch {
      // It waits, and goes with the next try.
    } finally {
      sending = false;
    }
  }
  function tryAgain() {
    again.clear();
    sendAll();
  }

  // Enters one line: enter("obs", ["7-1", "spo2", "71"]). Options: sure, ago_min, via, by,
  // hold_until_ms; to be shown while it waits: patient, people (who may stand for it).
  function enter(command, args, options = {}) {
    const entry = {
      key: newKey(), page: PAGE, made: mark(), made_s: clock.epoch_s() ? clock.now_s() : 0,
      command, args: args.map(String), patient: patients.get(episodeOf(args)) || "",
      by: localStorage.getItem("ridgepost-by") || "", ago_min: 0, ...options,
    };
    writeWaiting([...readWaiting(), entry]);
    sendAll();
    return entry.key;
  }

  // An unlikely value is recorded after a person has said so. Both give the key that it has now.
  function confirm(key) {
    change(key, { problem: null, sure: true });
    sendAll();
    return key;
  }
  // A dose against the table, on the word of a second person: an entry of its own, since the refusal
  // is in the log under the first one's key.
  function standFor(key, name) {
    const entry = readWaiting().find((e) => e.key === key);
    const anew = newKey();
    change(key, { problem: null, key: anew, args: [...entry.args, "confirmed", name],
      by: entry.by || localStorage.getItem("ridgepost-by") || "" });
    sendAll();
    return anew;
  }

  // What counts only now and is not kept: a stroke of the pump.
  function tellNow(command, args) {
    post({ command, args, made: mark(), page: PAGE, ago_min: 0 }).catch(() => {});
  }

  function live() {
    let source = null;
    let heard = mark();
    const hear = () => {
      heard = mark();
      setFailed(false);
    };
    const open = () => {
      source = new EventSource("/events");
      source.addEventListener("change", () => {
        hear();
        tell("view");
      });
      source.addEventListener("pulse", hear);
      source.onopen = () => {
        hear();
        sendAll();
        tell("view");
      };
      source.onerror = () => {
        setFailed(true);
        if (source.readyState === EventSource.CLOSED) {
          source.close();
          setTimeout(open, 3000);
        }
      };
    };
    open();
    setInterval(() => {
      if (since_ms(heard) > PULSE_MS) {
        source.close();
        heard = mark();
        open();
      }
      judge();
    }, 1000);
    setInterval(() => { if (nextReady()) sendAll(); }, 1000);
    addEventListener("storage", () => {
      remarks = readKept(REMARKS);
      tell("waiting");
    });
    // A page that is loaded again while the station is away does not come.
    addEventListener("beforeunload", (event) => {
      const waits = readWaiting().some((entry) => unkept || lost || !(entry.problem || isHeld(entry)));
      if (leaving || !waits) return;
      event.preventDefault();
      event.returnValue = ""; // older browsers ask only so
    });
  }

  return {
    HOLD_MS, isHeld, get, take, takeFile, enter, confirm, standFor, remove, live, sendAll, tryAgain,
    tell: tellNow,
    remarks: () => remarks,
    seenRemarks: () => keepRemarks([]),
    waiting: readWaiting,
    keeps: () => unkept === null, // whether what waits outlives this page
    paired: () => paired,
    // When what is shown was told, by this device's clock as it is now; null while the line holds.
    lostSince: () => (lost ? Date.now() - since_ms(viewed) : null),
    viewed_s: () => viewedAt_s, // net time of what was shown last
    // view, waiting, line: without arguments; recorded: (entry, the station's data).
    on: (what, f) => listeners[what].push(f),
  };
})();
