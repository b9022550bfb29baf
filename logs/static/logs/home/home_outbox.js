// What waits to be sent. A row is kept strictly before anyone is told that it is, and leaves the
// phone only in the transaction that notes its UUID as received.
home.outbox = (() => {
  const REMEMBERED_MS = 30 * 24 * 3600 * 1000;
  const unkept = new Map(); // what the phone would not keep: sent while this page is open
  const { run, keeps } = home.store;

  const every = (store, tell) => (store.getAll().onsuccess = (event) => tell(event.target.result));

  async function all() {
    const kept = keeps() ? await run(["outbox"], "readonly", (rows, tell) => void every(rows, tell)) : [];
    const here = [...unkept.values()].filter((row) => !kept.some((one) => one.uuid === row.uuid));
    const isLast = (row) => row.record.kind !== "stop"; // a stop sign goes before all sessions
    return [...kept, ...here].sort((one, other) => isLast(one) - isLast(other) || one.at - other.at);
  }

  // Tells whether the row is on the phone's disk now.
  async function put(row) {
    try {
      await run(["outbox"], "readwrite", (rows) => void rows.put(row));
      unkept.delete(row.uuid);
      return true;
    } catch {
      unkept.set(row.uuid, row);
      return false;
    }
  }

  const add = (record) =>
    put({ uuid: record.uuid, record, owner: record.owner, at: Date.now(), refused: "" });

  const refuse = (row, code) => put({ ...row, refused: code });

  async function hash(record) {
    if (!crypto.subtle) return "";
    const bytes = new TextEncoder().encode(JSON.stringify(record));
    const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
    return Array.from(digest, (byte) => byte.toString(16).padStart(2, "0")).join("");
  }

  // Forgets what the clinic has named as stored, but for its UUID; the kept plan learns of it.
  async function received(rows) {
    for (const row of rows) unkept.delete(row.uuid);
    if (!keeps()) return;
    const marks = await Promise.all(
      rows.map(async (row) => ({ uuid: row.uuid, hash: await hash(row.record), at: Date.now() })),
    );
    try {
      await note(rows, marks);
    } catch {
      // No room to note it: what the clinic has makes room all the same.
      await run(["outbox"], "readwrite", (outbox) => marks.forEach(({ uuid }) => outbox.delete(uuid)));
    }
  }

  function note(rows, marks) {
    return run(["outbox", "received", "notes"], "readwrite", (outbox, past, notes) => {
      for (const mark of marks) {
        outbox.delete(mark.uuid);
        past.put(mark);
      }
      every(past, (known) => {
        for (const mark of known) if (mark.at < Date.now() - REMEMBERED_MS) past.delete(mark.uuid);
      });
      notes.put(marks.at(-1).uuid, "last");
      home.store.renew("last", marks.at(-1).uuid);
      notes.get("plan").onsuccess = ({ target: { result: plan } }) => {
        if (!plan) return;
        for (const { record } of rows) home.learn(plan.data, record);
        notes.put(plan, "plan");
        home.store.renew("plan", plan);
      };
    });
  }

  const remembered = () =>
    keeps() ? run(["received"], "readonly", (past, tell) => void every(past, tell)) : [];

  const forget = (uuids) =>
    run(["received"], "readwrite", (past) => uuids.forEach((uuid) => past.delete(uuid)));

  return { all, add, refuse, put, received, remembered, forget };
})();

// Puts a session among those of its days that the page knows, in place of an earlier telling.
home.learn = (data, record) => {
  if (record.kind || !data.days[record.day] || data.owner !== record.owner) return;
  data.records = [...data.records.filter((one) => one.entry !== record.entry), record];
};
