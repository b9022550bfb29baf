// The screen that asks what was in the way, in one tap: of an exercise, or of yesterday's sessions.
home.why = (() => {
  const { find, all } = home;
  const screen = find("[data-screen=why]");
  let asked = null;

  // `of` is skipped, stopped or missed; an answer is a reason's key, or null for none.
  function ask(of, { onAnswer, onBack, onPutIn }) {
    asked = { onAnswer, onBack, onPutIn };
    const kind = of === "missed" ? "session" : "line";
    for (const words of all("[data-why-of]", screen)) words.hidden = words.dataset.whyOf !== of;
    for (const button of all("[data-why]", screen)) button.hidden = !button.dataset.whyKinds.includes(kind);
    for (const button of all("[data-why-kind]", screen)) button.hidden = button.dataset.whyKind !== kind;
    home.screens.show("why");
  }

  for (const button of all("[data-why], [data-why-none]", screen))
    button.addEventListener("click", () => asked.onAnswer(button.dataset.why ?? null));
  find("[data-why-put-in]", screen).addEventListener("click", () => asked.onPutIn());
  find("[data-back]", screen).addEventListener("click", () => asked.onBack());
  return { ask };
})();
