"use strict";
// Talking with the station: what it shows, what is entered, and what waits while it cannot be
// reached. Entries are kept in the browser's storage until the station has answered; each has a key
// of its own, so that one sent twice is recorded once.
const station = (() => {
  const WAITING = "ridgepost-waiting";
  const listeners = { view: [], waiting: [], line: [], recorded: [] };
  let sending = false;
  let viewedAt_s = 0;
  const PULSE_MS = 40000; // the station sends something every 15 s; two missed and a bit
  const ANSWER_MS = 8000; // no answer within this: none will come
  const DRAWN_MS = 40000; // a sheet is drawn by a program of its own
  const OLD_MS = 30000; // what is shown is asked for every 10 or 15 s

  const tell = (what, ...of) => listeners[what].forEach((f) => f(...of));

  // A moment, and how long ago it was. Clocks are set and devices sleep: whichever says more.
  const mark = () => ({ wall_ms: Date.now(), page_ms: performance.now() });
  const since_ms = ({ wall_ms, page_ms }) =>
    Math.max(Date.now() - wall_ms, performance.now() - page_ms);

  function readWaiting() {
    try {
      return JSON.parse(localStorage.getItem(WAITING)) || [];
    } catch {
      return [];
    }
  }
  function writeWaiting(list) {
    localStorage.setItem(WAITING, JSON.stringify(list));
    tell("waiting");
  }

  function newKey() {
    const bytes = crypto.getRandomValues(new Uint8Array(12));
    return Array.from(bytes, (b) => b.toString(16).padStart(2, "0")).join("");
  }

  // --- the line: lost when a try has failed, and when what is shown has grown old ---

  let failed = false;
  let lost = false;
  let viewed = mark();
  function judge() {
    const now = failed || since_ms(viewed) > OLD_MS;
    if (now === lost) return;
    lost = now;
    tell("line");
  }
  function setFailed(now) {
    failed = now;
    judge();
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
      if (answer.status === 401) {
        location.replace("/pair");
        throw new Error("not paired");
      }
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

  // The station takes words as the command line does; what waited tells how long ago it was.
  async function post(entry) {
    const waited_min = Math.max(0, Math.floor((Date.now() - entry.made_ms) / 60000));
    const body = { command: entry.command, args: entry.args };
    if (entry.key) body.key = entry.key;
    if (entry.by) body.by = entry.by;
    if (entry.via) body.via = entry.via;
    if (entry.sure) body.sure = true;
    if (entry.ago_min + waited_min > 0) body.ago = `${entry.ago_min + waited_min}min`;
    return reach("/entry", sends(body), (answer) => {
      if (answer.status >= 500) throw new Error("busy");
      return answer.json();
    });
  }

  function change(key, values) {
    writeWaiting(readWaiting().map((e) => (e.key === key ? { ...e, ...values } : e)));
  }
  function remove(key) {
    writeWaiting(readWaiting().filter((e) => e.key !== key));
  }

  // What the station said of a recorded entry: it stays until a person has seen it.
  const remarks = [];
  function remark(data) {
    const said = [data.remark, ...(data.conflicts || []).map((c) => `CONFLICT: ${c}`)].filter(Boolean);
    remarks.push(...said.filter((text) => !remarks.includes(text)));
  }

  // One that is held can still be stopped; never for longer, whatever this device's clock does.
  const HOLD_MS = 5000;
  const isHeld = (entry) => {
    const left_ms = (entry.hold_until_ms || 0) - Date.now();
    return left_ms > 0 && left_ms <= HOLD_MS;
  };
  const isReady = (entry) => !entry.problem && !isHeld(entry);

  // In order, one at a time; a refused one stays and says why, and the next goes on. The lock keeps
  // two pages of one browser from sending the same list at once.
  async function sendAll() {
    if (sending) return;
    sending = true;
    try {
      const run = async () => {
        for (;;) {
          const entry = readWaiting().find(isReady);
          if (!entry) return;
          const reply = await post(entry);
          if (reply.ok) {
            remark(reply.data || {});
            remove(entry.key);
            tell("recorded", entry, reply.data || {});
            tell("view");
          } else {
            change(entry.key, { problem: reply.error });
          }
        }
      };
      await (navigator.locks ? navigator.locks.request("ridgepost-send", { ifAvailable: true },
        (lock) => (lock ? run() : null)) : run()); // held: the other page sends
    } catch {
      // It waits, and goes with the next try.
    } finally {
      sending = false;
    }
  }

  // Enters one line: enter("obs", ["7-1", "spo2", "71"]). Options: sure, ago_min, via, by,
  // hold_until_ms.
  function enter(command, args, options = {}) {
    const entry = {
      key: newKey(), made_ms: Date.now(), command, args: args.map(String),
      by: localStorage.getItem("ridgepost-by") || "", ago_min: 0, ...options,
    };
    writeWaiting([...readWaiting(), entry]);
    sendAll();
    return entry.key;
  }

  // An unlikely value is recorded after a person has said so.
  function confirm(key) {
    change(key, { problem: null, sure: true });
    sendAll();
  }
  // A dose against the table, on the word of a second person: an entry of its own, since the refusal
  // is in the log under the first one's key.
  function standFor(key, name) {
    const entry = readWaiting().find((e) => e.key === key);
    change(key, { problem: null, key: newKey(), args: [...entry.args, "confirmed", name] });
    sendAll();
  }

  // What counts only now and is not kept: a stroke of the pump.
  function tellNow(command, args) {
    post({ command, args, made_ms: Date.now(), ago_min: 0 }).catch(() => {});
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
    setInterval(() => { if (readWaiting().some(isReady)) sendAll(); }, 1000);
    addEventListener("storage", () => tell("waiting"));
  }

  return {
    HOLD_MS, isHeld, get, take, takeFile, enter, confirm, standFor, remove, live, sendAll,
    tell: tellNow,
    remarks: () => remarks,
    seenRemarks() {
      remarks.length = 0;
      tell("waiting");
    },
    waiting: readWaiting,
    // When what is shown was told, by this device's clock as it is now; null while the line holds.
    lostSince: () => (lost ? Date.now() - since_ms(viewed) : null),
    viewed_s: () => viewedAt_s, // net time of what was shown last
    // view, waiting, line: without arguments; recorded: (entry, the station's data).
    on: (what, f) => listeners[what].push(f),
  };
})();
