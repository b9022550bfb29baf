// Keys of the plan builder. A control names its key: data-key inside a line, data-key-anywhere
// on the page. Enter in the search adds the first exercise found, once it is what was typed.
(() => {
  const find = () => document.getElementById("find");
  const typed = () => find().value.trim();
  const isFresh = () => document.getElementById("found").dataset.words.trim() === typed();
  const inField = (element) => element.matches("input:not([type=checkbox]), select, textarea");
  const keyOf = (event) => {
    const key = { "=": "+", Delete: "x" }[event.key] || event.key;
    return event.altKey ? `Alt+${key}` : key;
  };
  let addsWhenFound = false;

  const addFirst = () => {
    addsWhenFound = false;
    const add = document.querySelector("#found .hit > button");
    if (add) add.click();
    find().select();
  };
  const onFind = (event) => {
    if (event.key === "Enter") {
      event.preventDefault();
      if (isFresh()) addFirst();
      else {
        addsWhenFound = true;
        window.htmx.trigger("#finding", "submit");
      }
    } else if (event.key === "ArrowDown") {
      const line = document.querySelector("[data-line] .name");
      if (line) {
        event.preventDefault();
        line.focus();
      }
    } else if (event.key === "Escape") find().blur();
    else addsWhenFound = false;
  };
  const onLine = (event, line) => {
    const key = keyOf(event);
    if (inField(event.target) && key !== "Escape") return false;
    const control = [...line.querySelectorAll("[data-key]")].find((one) => one.dataset.key === key);
    if (control) {
      // The line keeps the focus through the swap that follows.
      if (key !== "Escape" && key !== "x") line.querySelector(".name").focus();
      control.click();
      return true;
    }
    const step = { ArrowUp: -1, ArrowDown: 1 }[key];
    if (!step || !event.target.matches(".name")) return false;
    const names = [...document.querySelectorAll("[data-line] .name")];
    const next = names[names.indexOf(event.target) + step];
    (next || (step < 0 ? find() : event.target)).focus();
    return true;
  };
  const onPage = (event) => {
    const controls = [...document.querySelectorAll("[data-key-anywhere]")];
    const control = controls.find(
      (one) => one.dataset.keyAnywhere.split(" ").includes(event.key) && one.checkVisibility(),
    );
    if (!control || event.altKey) return false;
    if (control.matches("input")) control.select();
    else control.click();
    if (control.hash === "#issuing") document.getElementById("issue_effective_day").focus();
    return true;
  };

  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.isComposing) return;
    if (event.target === find()) return onFind(event);
    const isSingle = event.key.length === 1 && !event.altKey;
    if (isSingle && !document.getElementById("single-keys").checked) return;
    const line = event.target.closest("[data-line]");
    if ((line && onLine(event, line)) || (!inField(event.target) && onPage(event))) {
      event.preventDefault();
    }
  });
  // A button pressed before htmx has met it still goes where it says.
  document.addEventListener("htmx:configRequest", (event) => {
    const pressed = event.detail.triggeringEvent?.submitter;
    if (pressed?.hasAttribute("formaction")) event.detail.path = pressed.formAction;
  });
  document.addEventListener("htmx:afterSettle", (event) => {
    if (event.target.id === "lines") {
      document.getElementById("sets").open = false;
      event.target.querySelector(".fresh")?.scrollIntoView({ block: "nearest" });
    }
    if (addsWhenFound && isFresh()) addFirst();
  });

  const single = document.getElementById("single-keys");
  single.checked = localStorage.getItem("single-keys") !== "off";
  single.addEventListener("change", () => {
    localStorage.setItem("single-keys", single.checked ? "on" : "off");
  });
})();
