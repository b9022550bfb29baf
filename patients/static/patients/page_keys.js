// Single keys of a patient's pages: a control names its own with data-page-key. "/" goes to the
// first field of a form that says which one that is; Ctrl+Enter presses the button that keeps it.
(() => {
  const isOn = () => localStorage.getItem("single-keys") !== "off";
  const isTyped = (element) =>
    element.matches?.("input:not([type=checkbox], [type=radio], [type=submit]), select, textarea");
  const firstField = () => {
    const form = document.querySelector("[data-first-field]");
    return form && document.querySelector(form.dataset.firstField);
  };
  document.addEventListener("keydown", (event) => {
    if (event.defaultPrevented || event.isComposing) return;
    let control;
    if (event.key === "Enter" && (event.ctrlKey || event.metaKey)) {
      control = document.querySelector("[data-ctrl-enter]");
    } else if (!event.ctrlKey && !event.metaKey && !event.altKey && isOn() && !isTyped(event.target)) {
      const named = [...document.querySelectorAll("[data-page-key]")];
      control = named.find((one) => one.dataset.pageKey === event.key);
      if (!control && event.key === "/") control = firstField();
    }
    if (!control) return;
    event.preventDefault();
    if (control.matches("input")) control.select();
    else control.click();
  });
  const single = document.querySelector("[data-single-keys]");
  if (!single) return;
  single.checked = isOn();
  single.addEventListener("change", () => {
    localStorage.setItem("single-keys", single.checked ? "on" : "off");
  });
})();
