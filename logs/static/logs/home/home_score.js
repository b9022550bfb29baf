// The screen with eleven buttons from 0 to 10, for one question at a time.
home.score = (() => {
  const screen = home.find("[data-screen=score]");
  let answered = () => {};
  let left = () => {};

  function ask(question, present, { onAnswer, onBack }) {
    answered = onAnswer;
    left = onBack;
    for (const words of home.all("[data-score-question]", screen))
      words.hidden = words.dataset.scoreQuestion !== question;
    for (const words of home.all("[data-score-end]", screen))
      words.hidden = (words.dataset.scoreEnd === "effort") !== (question === "effort");
    for (const button of home.all("[data-score]", screen))
      button.setAttribute("aria-pressed", String(button.dataset.score === String(present ?? "-")));
    home.screens.show("score");
  }

  for (const button of home.all("[data-score]", screen))
    button.addEventListener("click", () =>
      answered(button.dataset.score === "" ? null : Number(button.dataset.score)),
    );
  home.find("[data-back]", screen).addEventListener("click", () => left());
  return { ask };
})();
