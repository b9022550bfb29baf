// A notice that arrives by swap is read out by its live region; a form error takes the focus.
document.addEventListener("htmx:afterSettle", (event) => {
  const wrong = event.target.querySelector("[role=alert]");
  if (wrong) {
    wrong.tabIndex = -1;
    wrong.focus();
  }
});
