"use strict";
(() => {
  const form = document.getElementById("pair");
  const code = document.getElementById("code");
  const said = document.getElementById("said");
  const given = new URLSearchParams(location.search).get("code");
  if (given && /^[0-9]{6}$/.test(given)) {
    code.value = given; // from the QR code on the terminal; pairing still takes a tap
    history.replaceState(null, "", "/pair");
  }
  const waiting = JSON.parse(localStorage.getItem("ridgepost-waiting") || "[]").length;
  if (waiting) {
    said.textContent = `${waiting} ${waiting === 1 ? "entry waits" : "entries wait"} on this device ` +
      "and will be sent once it is paired.";
  }
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    said.textContent = "Asking the station ...";
    try {
      const reply = await fetch("/pair", {
        method: "POST",
        headers: { "Content-Type": "application/json", "X-Ridgepost": "1" },
        body: JSON.stringify({ code: code.value, device: document.getElementById("device").value }),
      });
      const answer = await reply.json();
      if (answer.ok) {
        const name = document.getElementById("device").value.trim();
        if (name && !localStorage.getItem("ridgepost-by")) {
          localStorage.setItem("ridgepost-by", name);
        }
        location.replace("/");
        return;
      }
      said.textContent = answer.error.text;
      code.select();
    } catch {
      said.textContent = "The station does not answer. Is this device on its network?";
    }
  });
})();
