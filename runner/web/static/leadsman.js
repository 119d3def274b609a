"use strict";
// Keys and play buttons. Every page works without it: filters have a button, play is a link to the sound.

const all = (what) => [...document.querySelectorAll(what)];
const player = new Audio();
let playing = null;

function quiet() {
  if (playing) playing.removeAttribute("aria-pressed");
  player.pause();
  playing = null;
}

function play(link) {
  const again = playing === link;
  quiet();
  if (again) return;
  playing = link;
  link.setAttribute("aria-pressed", "true");
  player.src = link.href;
  player.play().catch(quiet);
}

player.addEventListener("ended", quiet);
player.addEventListener("error", () => playing && quiet());

for (const link of all("a[data-play]")) {
  link.setAttribute("role", "button");
  link.addEventListener("click", (event) => { event.preventDefault(); play(link); });
  link.addEventListener("keydown", (event) => { if (event.key === " ") { event.preventDefault(); play(link); } });
}

// A choice is sent at once; a form that writes is sent once.
for (const field of all("[data-send]")) field.addEventListener("change", () => field.form.requestSubmit());
for (const form of all("form[data-once]")) {
  form.addEventListener("submit", (event) => {
    if (form.dataset.sent) event.preventDefault();
    form.dataset.sent = "yes";
  });
}

// Initials are remembered on this computer, so that they are typed once.
const initials = all("input.initials");
for (const field of initials) {
  try { field.value = field.value || localStorage.getItem("initials") || ""; } catch { /* not allowed to remember */ }
  field.addEventListener("change", () => {
    try { localStorage.setItem("initials", field.value); } catch { /* not allowed to remember */ }
    for (const other of initials) if (!other.value) other.value = field.value;
  });
}

function step(by) {
  const stops = all("[data-check]");
  const here = stops.findIndex((each) => each.contains(document.activeElement));
  const from = here < 0 && location.hash ? stops.findIndex((each) => `#${each.id}` === location.hash) : here;
  const next = stops[Math.min(stops.length - 1, Math.max(0, from + by))];
  if (next) (next.querySelector(".jobs a") || (next.matches("[tabindex]") ? next : next.querySelector("a"))).focus();
}

const keys = {
  j: () => step(1),
  k: () => step(-1),
  "/": () => document.querySelector("#search")?.focus(),
  s: () => document.querySelector("#verdict input.initials, #sign")?.focus(),
  p: () => { const link = document.activeElement.closest("[data-check]")?.querySelector("a[data-play]"); if (link) play(link); },
};

document.addEventListener("keydown", (event) => {
  const typing = event.target.matches("input, select, textarea");
  if (event.key === "Escape" && typing) event.target.blur();
  if (typing || event.ctrlKey || event.altKey || event.metaKey || !keys[event.key]) return;
  event.preventDefault();
  keys[event.key]();
});
