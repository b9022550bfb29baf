// The screen that puts an amount right: a stepper a set, and one for the weight where there is one.
// What it starts with is a suggestion: it counts only once the patient says that it is right.
home.amounts = (() => {
  const MOST = 999;
  const LARGEST_G = 50_000;
  const screen = home.find("[data-screen=amounts]");
  const place = home.find("[data-steppers]", screen);
  const blank = home.find("template[data-stepper]");
  let confirmed = () => {};
  let left = () => {};
  let steppers = [];

  function stepper(name, value, step, most, words) {
    const part = blank.content.cloneNode(true);
    const group = home.find(".stepper", part);
    const output = home.find("output", part);
    const state = { value };
    const show = () => (output.textContent = words(state.value));
    const move = (by) => {
      state.value = Math.max(0, Math.min(most, state.value + by));
      show();
    };
    group.setAttribute("aria-label", name);
    home.find(".stepper-name", part).textContent = name;
    const less = home.find("[data-less]", part);
    const more = home.find("[data-more]", part);
    less.setAttribute("aria-label", home.say("less", { name }));
    more.setAttribute("aria-label", home.say("more", { name }));
    less.addEventListener("click", () => move(-step));
    more.addEventListener("click", () => move(step));
    show();
    place.append(part);
    return state;
  }

  function open({ line, done, onConfirm, onBack }) {
    confirmed = onConfirm;
    left = onBack;
    place.replaceChildren();
    home.nameLine(home.find("[data-amounts-name]", screen), line);
    const step = line.unit === "seconds" ? 5 : 1;
    const start = done?.amounts.length ? done.amounts : home.asked(line);
    steppers = start.map((amount, index) => {
      const name = home.say(start.length > 1 ? "set" : "amount", { n: index + 1 });
      return stepper(name, amount, step, MOST, (value) => home.amount(line, value));
    });
    if (line.load_g) {
      const weight = done?.load_g ?? line.load_g;
      steppers.weight = stepper(home.say("weight"), weight, home.data.weight_step_g ?? 250, LARGEST_G, home.kilograms);
    }
    home.screens.show("amounts");
  }

  home.find("[data-confirm]", screen).addEventListener("click", () =>
    confirmed(
      steppers.map((state) => state.value),
      steppers.weight ? steppers.weight.value : null,
    ),
  );
  home.find("[data-amounts-back]", screen).addEventListener("click", () => left());
  return { open };
})();

home.listed = (parts) => parts.reduce((said, next) => home.say("listed", { said, next }));
home.amount = (line, value) => home.say(`amount_${line.unit}`, { n: value });
home.kilograms = (grams) =>
  home.say("kilograms", { n: (grams / 1000).toLocaleString(home.locale) });

// What a line asks for in each set, and the words for having done that, or other amounts.
home.asked = (line) => Array(line.sets).fill(line.low);
home.allOf = (line, amounts = home.asked(line)) =>
  home.say("all", { each: home.listed(amounts.map((amount) => home.amount(line, amount))) });
