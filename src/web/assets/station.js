"use strict";
// Talking with the station: what it shows, what is entered, and what waits while it cannot be
// reached. Entries are kept in the browser's storage until the station has answered; each has a key
// of its own, so that one sent twice is recorded once.
const station = (() => {
  const WAITING = "ridgepost-waiting";
  const listeners = { view: [], waiting: [], line: [], recorded: [] };
  let lostSince = null;
  let sending = false;
  let heardAt = Date.now();
  let viewedAt_s = 0;
  const PULSE_MS = 40000; // the station sends something every 15 s; two missed and a bit

  const tell = (what, ...of) => listeners[what].forEach((f) => f(...of));

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

  function setLost(lost) {
    if (lost && lostSince === null) {
      lostSince = Date.now();
      tell("line");
    } else if (!lost && lostSince !== null) {
      lostSince = null;
      tell("line");
    }
    if (!lost) {
      heardAt = Date.now();
    }
  }

  // What a page sends has this header, which a foreign page cannot send without asking first.
  const sends = (body) => ({ method: "POST", body: JSON.stringify(body),
    headers: { "Content-Type": "application/json", "X-Ridgepost": "1" } });

  async function fetched(path, options) {
    const answer = await fetch(path, { cache: "no-store", ...options });
    setLost(false);
    if (answer.status === 401) {
      location.replace("/pair");
      throw new Error("not paired");
    }
    return answer;
  }
  async function ask(path, options) {
    const reply = await (await fetched(path, options)).json();
    if (!reply.ok) {
      throw new Error(reply.error.text);
    }
    if (reply.data && reply.data.now_s) viewedAt_s = reply.data.now_s;
    return reply;
  }
  const get = (path) => ask(path, {});
  // What is not only looked at: a sheet with a number of its own.
  const take = (path) => ask(path, sends({}));
  async function takeFile(path) {
    const answer = await fetched(path, sends({}));
    if (!answer.ok) throw new Error(await answer.text());
    return answer;
  }

  // The station takes words as the command line does; what waited tells how long ago it was.
  async function post(entry) {
    const waited_min = Math.max(0, Math.floor((Date.now() - entry.made_ms) / 60000));
    const body = { command: entry.command, args: entry.args };
    if (entry.key) body.key = entry.key;
    if (entry.by) body.by = entry.by;
    if (entry.via) body.via = entry.via;
    if (entry.sure) body.sure = true;
    if (entry.ago_min + waited_min > 0) body.ago = `${entry.ago_min + waited_min}min`;
    const answer = await fetch("/entry", sends(body));
    if (answer.status === 503 || answer.status === 500) {
      throw new Error("busy");
    }
    setLost(false);
    return answer.json();
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
      await (navigator.locks ? navigator.locks.request("ridgepost-send", run) : run());
    } catch {
      setLost(true);
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
    post({ command, args, made_ms: Date.now(), ago_min: 0 }).catch(() => setLost(true));
  }

  function live() {
    let source = null;
    const open = () => {
      source = new EventSource("/events");
      source.addEventListener("change", () => {
        setLost(false);
        tell("view");
      });
      source.addEventListener("pulse", () => setLost(false));
      source.onopen = () => {
        setLost(false);
        sendAll();
        tell("view");
      };
      source.onerror = () => {
        setLost(true);
        if (source.readyState === EventSource.CLOSED) {
          source.close();
          setTimeout(open, 3000);
        }
      };
    };
    open();
    setInterval(() => {
      if (Date.now() - heardAt > PULSE_MS) {
        setLost(true);
        source.close();
        heardAt = Date.now();
        open();
      }
    }, 5000);
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
    lostSince: () => lostSince,
    viewed_s: () => viewedAt_s, // net time of what was shown last
    // view, waiting, line: without arguments; recorded: (entry, the station's data).
    on: (what, f) => listeners[what].push(f),
  };
})();
