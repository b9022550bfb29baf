// A button that ticks all seven days; without script the boxes are ticked one by one.
document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-every-day]");
  if (!button) return;
  for (const box of button.closest("[data-weekdays]").querySelectorAll("input")) box.checked = true;
});
for (const when of ["DOMContentLoaded", "htmx:load"]) {
  document.addEventListener(when, () => {
    for (const button of document.querySelectorAll("[data-every-day]")) button.hidden = false;
  });
}
