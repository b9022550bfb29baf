// Opens the page, from the clinic's answer or from what this phone keeps, and then runs its parts.
home.askPlan = async (have) => {
  try {
    const answer = await fetch(`/home/plan?have=${encodeURIComponent(have)}`, {
      redirect: "error", // a hotel's network must not pass for the clinic
      cache: "no-store",
    });
    const body = await answer.json();
    if (answer.status === 401 && body.error === "unknown_phone") return { shut: true };
    if (!answer.ok || body.v !== 1) return {};
    return body.same ? { same: true } : { plan: body };
  } catch {
    return {};
  }
};

(async () => {
  const bare = document.querySelectorAll("[data-bare]");
  home.isFresh = bare.length === 0; // the clinic's own page, with the plan in it
  const fresh = home.isFresh && planOfPage(); // before any script changes a word of it
  for (const words of document.querySelectorAll("[data-no-script]")) words.hidden = true;
  await home.store.ready;

  function planOfPage() {
    const kept = JSON.parse(document.getElementById("home-plan").textContent);
    const main = document.getElementById("content").innerHTML;
    return { ...kept, main, foot: document.querySelector(".foot").outerHTML };
  }

  async function say(name) {
    for (const words of bare) words.hidden = words.dataset.bare !== name;
    const unsent = (await home.outbox.all()).length > 0;
    for (const words of document.querySelectorAll("[data-bare-unsent]")) words.hidden = !unsent;
    document.dispatchEvent(new CustomEvent("home:bare"));
  }

  function place(plan) {
    const root = document.documentElement;
    [root.lang, root.dir, root.dataset.text] = [plan.language, plan.dir, plan.text_size];
    document.getElementById("content").innerHTML = plan.main;
    document.body.insertAdjacentHTML("beforeend", plan.foot);
    [home.data, home.words] = [structuredClone(plan.data), plan.words];
  }

  async function firstPlan() {
    const { plan, shut } = await home.askPlan("");
    if (plan) await home.store.keep("plan", plan);
    else await say(shut ? "none" : "net");
    return plan;
  }

  if (home.isFresh) {
    [home.data, home.words] = [structuredClone(fresh.data), fresh.words];
    if (home.store.kept("plan")?.hash !== fresh.hash) await home.store.keep("plan", fresh);
  } else {
    const plan = home.store.kept("plan") ?? (await firstPlan());
    if (!plan) {
      addEventListener("online", () => location.reload());
      return;
    }
    place(plan);
  }
  home.atStart = await home.outbox.all();
  for (const link of document.querySelectorAll("[data-part]")) {
    const script = document.createElement("script");
    script.src = link.href;
    script.async = false; // in the order in which they stand
    document.head.append(script);
  }
})();
