// After a session with pain: which exercise the pain belongs to, in one tap.
home.hurt = (() => {
  const { find, all } = home;
  const screen = find("[data-screen=hurt]");
  let asked = null;

  // `lines` are {ref, name}; an answer is a ref, "" for none of them, or null for no answer.
  function ask(lines, { present, isAbove, onAnswer, onBack }) {
    asked = { onAnswer, onBack };
    find("[data-hurt-limit]", screen).hidden = !isAbove;
    find("[data-hurt-lines]", screen).replaceChildren(
      ...lines.map(({ ref, name }) => {
        const button = document.createElement("button");
        button.type = "button";
        button.textContent = name;
        button.setAttribute("aria-pressed", String(ref === present));
        button.addEventListener("click", () => onAnswer(ref));
        return button;
      }),
    );
    find("[data-hurt-none]", screen).setAttribute("aria-pressed", String(present === ""));
    home.screens.show("hurt");
  }

  find("[data-hurt-none]", screen).addEventListener("click", () => asked.onAnswer(""));
  find("[data-hurt-unsaid]", screen).addEventListener("click", () => asked.onAnswer(null));
  find("[data-back]", screen).addEventListener("click", () => asked.onBack());
  return { ask };
})();
