// What can be said of an exercise besides how much: skipped, too hard, or its easier step instead.
home.said = (() => {
  const { find } = home;
  const screen = find("[data-screen=exercise]");
  const hard = find("[data-screen=hard]");
  let here = null; // { line, told, usual, isEasier, did(amounts, load_g, said), easier(isOn, why), back() }

  function show(given) {
    here = given;
    const button = find("[data-easier]", screen);
    button.hidden = !here.usual.easier;
    if (here.usual.easier)
      button.textContent = here.isEasier
        ? home.say("usual_step")
        : home.say("easier", { step: here.usual.easier.words });
    const why = here.told?.why;
    find("[data-hard]", screen).setAttribute("aria-pressed", String(why === "too_hard"));
  }

  function askHard() {
    const { line } = here;
    find("[data-hard-name]", hard).textContent = line.name;
    find("[data-hard-all]", hard).textContent = home.allOf(line);
    const easier = find("[data-hard-easier]", hard);
    easier.hidden = !here.usual.easier || here.isEasier;
    if (here.usual.easier) easier.textContent = home.say("easier", { step: here.usual.easier.words });
    home.screens.show("hard");
  }

  const why = "too_hard";
  const on = (within, name, act) => find(`[data-${name}]`, within).addEventListener("click", act);
  on(screen, "skip", () =>
    home.why.ask("skipped", {
      onAnswer: (reason) => here.did([], null, { ended: "skipped", ...(reason && { why: reason }) }),
      onBack: () => here.back(),
    }),
  );
  on(screen, "hard", askHard);
  on(screen, "easier", () => here.easier(!here.isEasier));
  on(hard, "hard-all", () => here.did(home.asked(here.line), null, { why }));
  on(hard, "hard-some", () =>
    home.amounts.open({
      line: here.line,
      done: here.told,
      onConfirm: (amounts, load_g) =>
        here.did(amounts, load_g, { ended: amounts.some(Boolean) ? "stopped" : "skipped", why }),
      onBack: askHard,
    }),
  );
  on(hard, "hard-none", () => here.did([], null, { ended: "skipped", why }));
  on(hard, "hard-easier", () => here.easier(true, why));
  on(hard, "back", () => here.back());
  return { show };
})();
