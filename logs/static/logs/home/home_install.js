// The home screen: offered once a session is saved on this phone, twice at most, and never again
// once the page was opened from there.
home.isInstalled = () =>
  navigator.standalone === true || matchMedia("(display-mode: standalone)").matches;

(() => {
  const MOST_OFFERS = 2;
  let asked = null; // the browser's own question, where it has one

  addEventListener("beforeinstallprompt", (event) => {
    event.preventDefault(); // it would ask on the first visit, before there is anything to keep
    asked = event;
  });
  addEventListener("appinstalled", () => {
    home.store.keep("home_screen", MOST_OFFERS);
    hide();
  });

  const place = () => document.querySelector("[data-home-screen]");
  const hide = () => (place().hidden = true);

  // Safari on iOS alone says whether the page stands alone; there no browser asks by itself.
  const way = () => (asked ? "asked" : navigator.standalone === false ? "share" : "menu");

  function offer() {
    const offers = home.store.kept("home_screen", 0);
    if (home.isInstalled() || offers >= MOST_OFFERS || !place().hidden) return;
    home.store.keep("home_screen", offers + 1);
    for (const words of place().querySelectorAll("[data-home-screen-way]"))
      words.hidden = words.dataset.homeScreenWay !== way();
    place().querySelector("[data-home-screen-no]").onclick = hide;
    place().querySelector("[data-home-screen-yes]").onclick = async () => {
      hide();
      asked.prompt();
      await asked.userChoice;
      asked = null;
    };
    place().hidden = false;
  }

  document.addEventListener("home:kept", ({ detail }) => {
    if (detail.isKept && home.screens.present() === "done") offer();
  });
  document.addEventListener("home:screen", () => {
    if (home.screens.present() !== "done") hide();
  });
})();
