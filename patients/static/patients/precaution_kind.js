// Shows only the fields that belong to the kind of precaution chosen; the others are not sent.
"use strict";
(() => {
  const form = document.querySelector("[data-precaution]");
  const kind = form && form.elements.kind;
  if (!kind) return;
  const show = () => {
    for (const input of form.querySelectorAll("[data-of-kind]")) {
      const belongs = input.dataset.ofKind.split(" ").includes(kind.value);
      input.disabled = !belongs;
      input.closest(".field").hidden = !belongs;
    }
  };
  kind.addEventListener("change", show);
  show();
})();
