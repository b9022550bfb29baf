// Sends what waits on the phone, and says what became of it in events named "home:sending".
// Only an answer of the clinic's own that names a UUID counts as received.
home.send = (() => {
  const MOST_AT_ONCE = 100;
  const LARGEST_BYTES = 200 * 1024;
  const LONGEST_WAIT_MS = 60_000;
  const LATER = ["later_form", "other_owner"]; // kept, and offered again another time
  let again = false;
  let busy = false;
  let wait_ms = 0;
  let turnedAway = 0;
  let timer = 0;

  const tell = (state, rows = []) =>
    document.dispatchEvent(
      new CustomEvent("home:sending", { detail: { state, uuids: rows.map((row) => row.uuid) } }),
    );

  async function post(path, body) {
    const { ok, status, read } = await home.post(path, body);
    if (read.v !== 1) throw new Error("unread");
    if (status === 401 && read.error === "unknown_phone") throw new Error("shut");
    if (status === 413 || status === 400) throw new Error("too_much");
    if (!ok) throw new Error("unread");
    return read;
  }

  function batchOf(rows, most) {
    const batch = [];
    let bytes = 0;
    for (const row of rows.slice(0, most)) {
      bytes += new TextEncoder().encode(JSON.stringify(row.record)).length + 1;
      if (batch.length && bytes > LARGEST_BYTES) break;
      batch.push(row);
    }
    return batch;
  }

  async function sendWaiting() {
    const passed = new Set();
    let most = MOST_AT_ONCE;
    for (;;) {
      const rows = (await home.outbox.all()).filter(
        (row) => row.owner === home.data.owner && !row.refused && !passed.has(row.uuid),
      );
      if (!rows.length) return passed.size === 0;
      const batch = batchOf(rows, most);
      tell("sending", batch);
      let read;
      try {
        read = await post("/home/entries", {
          entries: batch.map((row) => row.record),
          sent_at: new Date().toISOString(),
          last: home.store.kept("last"),
        });
      } catch (problem) {
        if (problem.message !== "too_much") throw problem;
        if (batch.length > 1) most = Math.ceil(batch.length / 2);
        else {
          await home.outbox.refuse(batch[0], "unread"); // one that can't be read holds up no other
          tell("refused", batch);
        }
        continue;
      }
      if (read.last_known === false) home.store.keep("put_back", true);
      await take(batch, read.answers, passed);
    }
  }

  async function take(batch, answers, passed) {
    const results = new Map(answers.map((answer) => [answer.uuid, answer]));
    const stored = batch.filter((row) => ["stored", "duplicate"].includes(results.get(row.uuid)?.result));
    const refused = batch.filter((row) => results.get(row.uuid)?.result === "rejected");
    if (!stored.length && !refused.length) throw new Error("unread");
    for (const row of batch) if (!stored.includes(row)) passed.add(row.uuid);
    for (const row of refused.filter((one) => !LATER.includes(results.get(one.uuid).code))) {
      await home.outbox.refuse(row, results.get(row.uuid).code);
      tell("refused", [row]);
    }
    if (stored.length) {
      await home.outbox.received(stored);
      tell("received", stored);
    }
  }

  // The clinic's server has been put back to an earlier day: offers what it had named as stored.
  // Bodies of yesterday and today are still in the kept plan; of the others the days stay open
  // under a new store's id, so that nobody takes them for missed.
  async function offerAgain() {
    const known = (await home.outbox.remembered()).map((mark) => mark.uuid);
    const missing = [];
    for (let at = 0; at < known.length; at += 500) {
      const read = await post("/home/known", { uuids: known.slice(at, at + 500) });
      missing.push(...read.missing);
    }
    // This page was opened before some of them; the kept plan has learnt of each when it was stored.
    const learnt = home.store.kept("plan")?.data.records ?? [];
    const told = [...home.stop.records(), ...home.data.records, ...learnt];
    const lost = told.filter((record) => missing.includes(record.uuid));
    const bodies = new Map(lost.map((record) => [record.uuid, record]));
    for (const record of bodies.values()) await home.outbox.add(record);
    if (missing.length > bodies.size) await home.store.keep("store", home.uuid());
    await home.outbox.forget(missing);
    const left = known.filter((uuid) => !missing.includes(uuid));
    await home.store.keep("last", left.at(-1) ?? null);
    await home.store.keep("put_back", null);
  }

  const pending = async () => (await home.outbox.all()).length;

  async function go() {
    const all = await sendWaiting();
    if (home.store.kept("put_back")) {
      await offerAgain();
      await sendWaiting();
    }
    const read = await post("/home/report", {
      store: home.store.id(),
      pending: await pending(),
      zone: home.zone(),
      sent_at: new Date().toISOString(),
      last: home.store.kept("last"),
      version: home.store.kept("plan")?.data.newest ?? null,
      persistent: (await navigator.storage?.persisted?.()) ?? null,
      installed: home.isInstalled(),
    });
    await home.store.keep("contact", Date.now());
    if (read.last_known === false) {
      await home.store.keep("put_back", true);
      again = true;
      return; // a plan without what is to be offered again must not come before it is
    }
    if (!all) throw new Error("later");
    wait_ms = 0;
    await contact();
  }

  // Nothing is sent while a plan is asked for: it would be kept without what was received meanwhile.
  async function contact() {
    const works = [];
    const waitFor = (work) => works.push(work);
    document.dispatchEvent(new CustomEvent("home:contact", { detail: { waitFor } }));
    await Promise.allSettled(works);
  }

  // One window at a time; what two send all the same is stored once.
  const alone = (work) =>
    navigator.locks
      ? navigator.locks.request("home.flush", { ifAvailable: true }, (lock) => {
          if (!lock && ++turnedAway < 5) throw new Error("turn");
          turnedAway = 0;
          return work();
        })
      : work();

  function later(ms) {
    clearTimeout(timer);
    timer = setTimeout(flush, ms * (0.75 + Math.random() / 2));
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
      await alone(go);
      later(LONGEST_WAIT_MS);
    } catch (problem) {
      const rows = (await home.outbox.all()).filter((row) => !row.refused);
      if (problem.message === "shut") {
        tell("shut", rows);
        document.dispatchEvent(new CustomEvent("home:shut"));
      } else if (problem.message === "turn") later(1500);
      else {
        if (rows.length) tell("waiting", rows);
        wait_ms = Math.min(LONGEST_WAIT_MS, wait_ms * 2 || 4000);
        later(wait_ms);
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
    flush,
    async save(record) {
      const isKept = await home.outbox.add(record);
      document.dispatchEvent(
        new CustomEvent("home:kept", { detail: { uuid: record.uuid, isKept } }),
      );
      flush();
      return isKept;
    },
  };
})();
