// Asks before a page is left with something typed into a form marked data-keep-typed and not sent.
(() => {
  let typed = false;
  document.addEventListener("input", (event) => {
    if (event.target.closest?.("[data-keep-typed]")) typed = true;
  });
  document.addEventListener("submit", () => { typed = false; });
  window.addEventListener("beforeunload", (event) => {
    if (typed) event.preventDefault();
  });
})();
