"use strict";
// Sheets: a draft to be looked at, or one with a number of its own, as text or drawn. Which one was
// given out last on this device is kept for the question which sheet the team has.
const sheets = (() => {
  const GIVEN = "ridgepost-given"; // { episode, sheet: "2 K7QP", at_ms }
  const GIVEN_FOR_MS = 2 * 3600 * 1000;

  function keep(episode, number, check) {
    localStorage.setItem(GIVEN, JSON.stringify({ episode: episode.name, sheet: `${number} ${check}`,
      at_ms: Date.now() }));
  }
  function given(episode) {
    const last = JSON.parse(localStorage.getItem(GIVEN) || "{}");
    const young = Math.abs(Date.now() - last.at_ms) < GIVEN_FOR_MS;
    return last.episode === episode.name && young ? last.sheet : "";
  }

  const address = (path, episode, form, lang) => `/${path}?` +
    new URLSearchParams({ episode: episode.name, form, ...(lang ? { lang } : {}) });

  // A long form comes in parts. Only what leaves the screen is numbered.
  async function whole(episode, form, lang, numbered) {
    const ask = numbered ? station.take : station.get;
    let text = "";
    for (let after = ""; ;) {
      const reply = await ask(address("handover", episode, form, lang) +
        (after ? `&after=${encodeURIComponent(after)}` : ""));
      text += reply.text;
      after = reply.data.next || "";
      if (!after) {
        if (numbered && reply.data.sheet) keep(episode, reply.data.sheet, reply.data.check);
        return { text, data: reply.data };
      }
    }
  }

  // Drawn by the station, with a number of its own; its file's name tells it.
  async function drawn(episode, form, lang) {
    const reply = await station.takeFile(address("drawn", episode, form, lang));
    const name = /filename="([^"]+)"/.exec(reply.headers.get("Content-Disposition") || "")[1];
    const [, number, check] = /sheet(\d+)-(\w+)\./.exec(name);
    keep(episode, number, check);
    return { blob: reply.blob, name, number, check };
  }

  function save(content, type, name) {
    const url = URL.createObjectURL(new Blob([content], { type }));
    h("a", { href: url, download: name }).click();
    setTimeout(() => URL.revokeObjectURL(url), 60000);
  }

  // Codes on the page itself: each cell is a whole number of the screen's pixels, as many as fit
  // into the width, so that a camera reads them.
  const CELL_PX = 6; // as they come: src/page/code.c
  async function codes(blob, says, width_px) {
    const bitmap = await createImageBitmap(blob);
    const dots = devicePixelRatio || 1;
    const cell = Math.max(1, Math.floor(width_px * dots / (bitmap.width / CELL_PX)));
    const canvas = h("canvas", { class: "codes", width: bitmap.width / CELL_PX * cell,
      height: bitmap.height / CELL_PX * cell, role: "img", "aria-label": says });
    const pen = canvas.getContext("2d");
    pen.imageSmoothingEnabled = false;
    pen.drawImage(bitmap, 0, 0, canvas.width, canvas.height);
    canvas.style.width = `${canvas.width / dots}px`;
    return canvas;
  }

  return { given, whole, drawn, save, codes };
})();
