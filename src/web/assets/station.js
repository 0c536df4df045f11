"use strict";
// Talking with the station: what it shows, what is entered, and what waits while it cannot be
// reached. Entries are kept in the browser's storage until the station has answered; each has a key
// of its own, so that one sent twice is recorded once.
const station = (() => {
  const WAITING = "ridgepost-waiting";
  const listeners = { view: [], waiting: [], line: [] };
  let lostSince = null;
  let sending = false;
  let heardAt = Date.now();
  let viewedAt_s = 0;
  const PULSE_MS = 40000; // the station sends something every 15 s; two missed and a bit

  const tell = (what) => listeners[what].forEach((f) => f());

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

  async function get(path) {
    const answer = await fetch(path, { cache: "no-store" });
    setLost(false);
    if (answer.status === 401) {
      location.replace("/pair");
      throw new Error("not paired");
    }
    const reply = await answer.json();
    if (!reply.ok) {
      throw new Error(reply.error.text);
    }
    if (reply.data && reply.data.now_s) viewedAt_s = reply.data.now_s;
    return reply;
  }

  // The station takes words as the command line does; what waited tells how long ago it was.
  async function post(entry) {
    const waited_min = Math.floor((Date.now() - entry.made_ms) / 60000);
    const body = { command: entry.command, args: entry.args, key: entry.key };
    if (entry.by) body.by = entry.by;
    if (entry.via) body.via = entry.via;
    if (entry.sure) body.sure = true;
    if (entry.ago_min + waited_min > 0) body.ago = `${entry.ago_min + waited_min}min`;
    const answer = await fetch("/entry", {
      method: "POST",
      headers: { "Content-Type": "application/json", "X-Ridgepost": "1" },
      body: JSON.stringify(body),
    });
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

  // In order, one at a time; a refused one stays and says why, and the next goes on. The lock keeps
  // two pages of one browser from sending the same list at once.
  async function sendAll() {
    if (sending) return;
    sending = true;
    try {
      const run = async () => {
        for (;;) {
          const entry = readWaiting().find((e) => !e.problem);
          if (!entry) return;
          const reply = await post(entry);
          if (reply.ok) {
            remove(entry.key);
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

  // Enters one line: enter("obs", ["7-1", "spo2", "71"]). Options: sure, ago_min, via.
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
      if (readWaiting().some((e) => !e.problem)) sendAll();
    }, 5000);
    addEventListener("storage", () => tell("waiting"));
  }

  return {
    get, enter, confirm, remove, live, sendAll,
    waiting: readWaiting,
    lostSince: () => lostSince,
    viewed_s: () => viewedAt_s, // net time of what was shown last
    on: (what, f) => listeners[what].push(f),
  };
})();
