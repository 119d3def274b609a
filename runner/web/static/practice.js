"use strict";
// Puts points clicked on the schematic into the form, and shows on it where the probes of the form are.
(() => {
  const picture = document.querySelector(".schematic");
  const form = document.getElementById("probe");
  const pending = document.getElementById("pending");
  if (!picture) return;

  const light = (colour, point) => {
    for (const lit of picture.querySelectorAll(`.point[data-${colour}]`)) delete lit.dataset[colour];
    const found = point && document.getElementById(`point-${point}`);
    if (found) found.dataset[colour] = "on";
  };
  const show = (red, black) => { light("red", red); light("black", black); };

  if (pending) show(pending.dataset.red, pending.dataset.black);
  if (!form) return;

  const refresh = () => show(form.red.value, form.black.value);
  const take = (point) => {
    const name = point.id.slice("point-".length);
    if (![...form.red.options].some((option) => option.value === name)) return;
    if (form.red.value && form.black.value || !form.red.value) { form.red.value = name; form.black.value = ""; } else form.black.value = name;
    refresh();
  };
  picture.classList.add("clickable");
  document.getElementById("hint").hidden = false;
  for (const point of picture.querySelectorAll(".point")) {
    point.setAttribute("tabindex", "0");
    point.setAttribute("role", "button");
    point.addEventListener("click", () => take(point));
    point.addEventListener("keydown", (event) => {
      if (event.key === "Enter" || event.key === " ") { event.preventDefault(); take(point); }
    });
  }
  form.red.addEventListener("change", refresh);
  form.black.addEventListener("change", refresh);
  refresh();
})();
