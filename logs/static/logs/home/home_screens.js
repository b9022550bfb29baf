// One thing at a time: shows one screen of the page and moves the focus to its heading.
// Words that go with a number {n} have a form for each plural that their language has.
home.say = (key, values = {}) => {
  const words = home.words[key];
  const isOne = typeof words === "string";
  const said = isOne ? words : (words[home.plural.select(values.n)] ?? words.other);
  return said.replace(/\{(\w+)\}/g, (whole, name) => values[name] ?? whole);
};

// Numbers and days are written with European digits in every language.
home.locale = `${document.documentElement.lang}-u-nu-latn`;
home.plural = new Intl.PluralRules(home.locale);

// The local day of the phone, moved by whole days of the calendar.
home.day = (moved = 0) => {
  const now = new Date();
  const day = new Date(now.getFullYear(), now.getMonth(), now.getDate() + moved);
  const two = (number) => String(number).padStart(2, "0");
  return `${day.getFullYear()}-${two(day.getMonth() + 1)}-${two(day.getDate())}`;
};

home.dayWords = (day) =>
  new Date(`${day}T12:00:00`).toLocaleDateString(home.locale, {
    weekday: "long",
    day: "numeric",
    month: "long",
  });

// An exercise may have no words in the language of the page: its name then says so.
home.nameLine = (heading, line) => {
  [heading.textContent, heading.lang, heading.dir] = [line.name, line.language, "auto"];
};

home.find = (selector, within = document) => within.querySelector(selector);
home.all = (selector, within = document) => [...within.querySelectorAll(selector)];

// A figure put in anew moves by itself, save where less motion is asked for (figure_player.js).
home.showFigure = (place) => {
  for (const player of home.all("[data-figure-player]", place))
    player.dataset.figurePlayer = "moving";
  place.dispatchEvent(new CustomEvent("figure-shown", { bubbles: true }));
};

home.screens = (() => {
  for (const words of home.all("[data-no-script]")) words.hidden = true;
  home.find("[data-reading-heading]").hidden = false;
  const screens = home.all("[data-screen]");
  let present = "";
  let beforeStop = "today";

  function show(name) {
    present = name;
    for (const screen of screens) screen.hidden = screen.dataset.screen !== name;
    scrollTo(0, 0);
    const heading = home
      .all("[tabindex='-1']", home.find(`[data-screen=${name}]`))
      .find((one) => !one.hidden && one.offsetParent);
    heading?.focus({ preventScroll: true });
    document.dispatchEvent(new CustomEvent("home:screen"));
  }

  function back() {
    if (beforeStop === "today") home.today.show();
    else show(beforeStop);
  }

  home.find("[data-stop]").addEventListener("click", (event) => {
    event.preventDefault();
    if (present === "stop") return;
    if (present !== "told") beforeStop = present;
    show("stop");
  });
  home.find("[data-stop-back]").hidden = false;
  home.find("[data-stop-back]").addEventListener("click", back);
  return { show, back, present: () => present, before: () => beforeStop, leave: () => (beforeStop = "today") };
})();

// While a session is open in any window, no newer page takes over (home_contact.js looks).
home.inSession = (() => {
  let release = null;
  return (isOpen) => {
    if (isOpen && !release) {
      release = () => {};
      navigator.locks?.request("home.session", { mode: "shared" }, () => new Promise((done) => (release = done)));
    } else if (!isOpen && release) {
      release();
      release = null;
    }
  };
})();
