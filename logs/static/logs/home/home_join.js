// The enrolment page. The secret of a link stands after the #, which only this script reads and
// sends; a phone that has no link is told a short code instead. Where an installed app keeps
// storage of its own (iOS: only there does the navigator say whether it stands alone), the page is
// installed first, and the code is typed in the app.
(() => {
  const find = (selector) => document.querySelector(selector);
  const secret = location.hash.slice(1);
  const link = find("[data-join]");
  const { form, button: typed, code } = home.keys;
  const say = (name) => {
    for (const words of document.querySelectorAll("[data-join-said]"))
      words.hidden = words.dataset.joinSaid !== name;
  };

  function show(way) {
    for (const part of document.querySelectorAll("[data-join-way]"))
      part.hidden = part.dataset.joinWay !== way;
    find("[data-join-typed]").hidden = way === "code";
    say("");
  }

  async function join(button, shown) {
    button.disabled = true;
    say("working");
    try {
      await home.store.ready;
      const asked = { ...shown, store: home.store.id(), zone: home.zone() };
      const { ok, status, read } = await home.post("/home/enrol", asked);
      if (ok && read.enrolled === true) {
        await home.store.keep("plan", null); // perhaps another's, who had this phone before
        location.replace("/home/"); // the link with its secret leaves the history
        return;
      }
      say(status === 429 ? "closed" : shown.code ? "code" : "link");
      button.disabled = !shown.code;
    } catch {
      say("net");
      button.disabled = false;
    }
  }

  find("[data-no-script]").hidden = true;
  link.disabled = false;
  link.addEventListener("click", () => join(link, { secret }));
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    if (!typed.disabled) join(typed, { code: code() });
  });
  find("[data-join-typed]").addEventListener("click", () => show("code"));
  find("[data-join-here]").hidden = !secret;
  find("[data-join-here]").addEventListener("click", () => show("link"));
  if (navigator.standalone === false) show("install");
  else show(secret ? "link" : "code");
})();
