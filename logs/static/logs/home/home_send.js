// Sends what waits on the phone, and says what became of it in events named "home:sending".
// An entry leaves the phone only when the clinic has named its UUID as stored.
home.send = (() => {
  const MOST_AT_ONCE = 50;
  const LONGEST_WAIT_MS = 60_000;
  let busy = false;
  let again = false;
  let wait_ms = 0;
  let timer = 0;

  const tell = (state, uuids = []) =>
    document.dispatchEvent(new CustomEvent("home:sending", { detail: { state, uuids } }));

  async function post(path, body) {
    const answer = await fetch(path, {
      method: "POST",
      redirect: "error", // a sign-in page or a hotel's network must not pass for an answer
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify(body),
    });
    if (answer.status === 401) throw new Error("shut");
    const read = await answer.json();
    if (!answer.ok || read.v !== 1) throw new Error("unread");
    return read;
  }

  async function sendWaiting() {
    const batch = home.store.waiting().slice(0, MOST_AT_ONCE);
    if (!batch.length) return false;
    tell("sending", batch.map((record) => record.uuid));
    const { answers } = await post("/home/entries", { entries: batch });
    const stored = [];
    const refused = [];
    for (const answer of answers) {
      const record = batch.find((one) => one.uuid === answer.uuid);
      if (!record) continue;
      if (answer.result === "stored" || answer.result === "duplicate") stored.push(record.uuid);
      else if (answer.result === "rejected" && answer.code !== "later_form") {
        home.store.refuse(record, answer.code);
        refused.push(record.uuid);
      }
    }
    home.store.drop(stored);
    if (stored.length) tell("received", stored);
    if (refused.length) tell("refused", refused);
    if (!stored.length && !refused.length) throw new Error("unread");
    return home.store.waiting().length > 0;
  }

  async function flush() {
    if (busy) {
      again = true;
      return;
    }
    busy = true;
    clearTimeout(timer);
    again = false;
    try {
      while (await sendWaiting());
      wait_ms = 0;
      const pending = home.store.pending();
      await post("/home/report", { store: home.store.id(), pending, zone: home.zone() });
    } catch (problem) {
      const waiting = home.store.waiting().map((record) => record.uuid);
      if (problem.message === "shut") tell("shut", waiting);
      else {
        if (waiting.length) tell("waiting", waiting);
        wait_ms = Math.min(LONGEST_WAIT_MS, wait_ms * 2 || 4000);
        timer = setTimeout(flush, wait_ms * (0.75 + Math.random() / 2));
      }
    } finally {
      busy = false;
      if (again) flush();
    }
  }

  addEventListener("online", flush);
  addEventListener("pageshow", flush);
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") flush();
  });

  return {
    save(record) {
      home.store.put(record);
      return flush();
    },
  };
})();
