// The enrolment page: the secret stands after the #, which only this script reads and sends.
(() => {
  document.querySelector("[data-no-script]").hidden = true;
  const button = document.querySelector("[data-join]");
  const secret = location.hash.slice(1);
  const say = (name) => {
    for (const words of document.querySelectorAll("[data-join-said]"))
      words.hidden = words.dataset.joinSaid !== name;
  };

  async function join() {
    button.disabled = true;
    say("working");
    try {
      await home.store.ready;
      const answer = await fetch("/home/enrol", {
        method: "POST",
        redirect: "error",
        headers: { "Content-Type": "application/json" },
        body: JSON.stringify({ secret, store: home.store.id(), zone: home.zone() }),
      });
      const body = await answer.json();
      if (answer.ok && body.enrolled === true) {
        await home.store.keep("plan", null); // perhaps another's, who had this phone before
        location.replace("/home/"); // the link with its secret leaves the history
        return;
      }
      say("link");
    } catch {
      say("net");
      button.disabled = false;
    }
  }

  if (secret) {
    button.disabled = false;
    button.addEventListener("click", join);
  } else {
    say("none");
  }
})();
