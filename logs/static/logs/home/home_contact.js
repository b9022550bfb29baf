// Contact with the clinic: a newer plan, a newer page, and what this phone can't keep.
(() => {
  const { find, all, store } = home;
  const DAY_MS = 24 * 3600 * 1000;
  const shell = find("meta[name=home-shell]")?.content;
  const present = store.kept("plan").hash;
  let isStale = false;

  const canReload = () => isStale && home.screens.present() === "today";

  async function isSessionOpen() {
    const { held } = await navigator.locks.query();
    return held.some((lock) => lock.name === "home.session");
  }

  async function takeOver() {
    const worker = await navigator.serviceWorker?.getRegistration("/home/");
    if (worker?.waiting && !(await isSessionOpen())) worker.waiting.postMessage("take over");
  }

  async function renewPage() {
    const worker = await navigator.serviceWorker?.getRegistration("/home/");
    await worker?.update().catch(() => {});
    await takeOver();
  }

  async function keepPlan() {
    const { plan } = await home.askPlan(store.kept("plan")?.hash ?? "");
    if (plan) await store.keep("plan", plan);
    return plan;
  }

  async function usePlan(plan) {
    if (plan) {
      if (present !== plan.hash) isStale = true;
      home.send.flush(); // the clinic hears which version has arrived
      if (shell && plan.shell !== shell) await renewPage();
      home.stop.planCame(plan.data);
      home.today.planCame(plan.data);
    } else await takeOver();
    if (canReload()) location.reload();
  }

  function showState() {
    const contact = store.kept("contact");
    find("[data-net=unsafe]").hidden = isSecureContext && "serviceWorker" in navigator;
    find("[data-net=unkept]").hidden = store.keeps();
    // Either way: a contact that lies ahead tells of a clock put back, not of a plan just asked for.
    const since_ms = contact ? Math.abs(Date.now() - contact) : 0;
    find("[data-net=long]").hidden = since_ms <= DAY_MS || since_ms > 7 * DAY_MS;
    find("[data-net=week]").hidden = since_ms <= 7 * DAY_MS;
    home.outbox.all().then((rows) => {
      const handed = store.kept("handed", []);
      const late = rows.filter(
        (row) =>
          row.owner === home.data.owner &&
          row.at < Date.now() - DAY_MS &&
          !handed.includes(row.uuid),
      );
      find("[data-net=late]").hidden = late.length === 0;
      find("[data-net=others]").hidden = !rows.some((row) => row.owner !== home.data.owner);
    });
  }

  document.addEventListener("home:handed", showState);
  document.addEventListener("home:contact", ({ detail }) => {
    showState();
    const asked = keepPlan();
    detail.waitFor(asked);
    asked.then(usePlan);
  });
  document.addEventListener("home:screen", () => canReload() && location.reload());
  document.addEventListener("home:shut", async () => {
    await store.keep("plan", null); // what the clinic has closed is not shown again; entries stay
    for (const words of all("[data-net=shut]")) words.hidden = false;
  });
  document.addEventListener("home:kept", ({ detail }) => {
    if (detail.isKept && store.kept("persist") === null && navigator.storage?.persist)
      navigator.storage.persist().then((said) => store.keep("persist", said));
  });

  if (isSecureContext && "serviceWorker" in navigator)
    navigator.serviceWorker
      .register("/home/worker.js", { scope: "/home/", updateViaCache: "none" })
      .then(takeOver)
      .catch(() => {});
  showState();
  home.send.flush();
  document.documentElement.dataset.ready = "";
})();
