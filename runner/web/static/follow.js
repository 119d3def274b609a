"use strict";
// Keeps the page as the run stands, lights the probe points, and plays each sentence to who asked for it.
(() => {
  const parts = ["now", "reading", "why", "suspects", "end"];
  const page = document.getElementById("bench");
  const link = document.getElementById("link");
  const listen = document.getElementById("listen");
  const voice = document.getElementById("voice");
  let spoken = 0;
  let queue = [];

  const light = (colour, point) => {
    for (const lit of document.querySelectorAll(`.point[data-${colour}]`)) delete lit.dataset[colour];
    const found = point && document.getElementById(`point-${point}`);
    if (found) found.dataset[colour] = "on";
  };

  const next = () => {
    if (!queue.length || !voice.paused && !voice.ended && voice.src) return;
    voice.src = `/follow/sentences/${queue.shift()}.wav`;
    voice.play().catch(() => { link.textContent = "Sound cannot be played here."; });
  };
  voice.addEventListener("ended", next);
  voice.addEventListener("error", () => { voice.removeAttribute("src"); next(); });

  listen.hidden = false;
  listen.addEventListener("click", () => {
    const on = listen.getAttribute("aria-pressed") !== "true";
    listen.setAttribute("aria-pressed", String(on));
    listen.textContent = on ? "Stop listening here" : "Listen here";
    queue = on && spoken ? [spoken] : [];
    if (on) next(); else voice.pause();
  });

  const source = new EventSource("/follow/events");
  source.onmessage = (event) => {
    const run = JSON.parse(event.data);
    if (run.title !== page.dataset.title) { location.reload(); return; } // the run has begun: its picture is there now
    for (const name of parts) {
      const place = document.getElementById(`part-${name}`);
      if (place.dataset.last !== run.regions[name]) {
        place.innerHTML = run.regions[name];
        place.dataset.last = run.regions[name];
      }
    }
    light("red", run.red);
    light("black", run.black);
    if (run.number > spoken) {
      spoken = run.number;
      if (listen.getAttribute("aria-pressed") === "true") {
        queue = [...queue.slice(-1), spoken]; // far behind is no use beside a bench
        next();
      }
    }
    link.textContent = "";
    document.body.dataset.seen = run.number;
    if (run.over) source.close();
  };
  source.onerror = () => { link.textContent = "The connection is lost; trying again."; };
})();
