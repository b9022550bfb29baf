// What this phone keeps, in one IndexedDB: small notes here, and in home_outbox.js what waits.
// Every script of the patient's page hangs on the one name `home`.
const home = {};

home.uuid = () => {
  if (crypto.randomUUID) return crypto.randomUUID(); // only where the address is https or localhost
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
};

home.zone = () => Intl.DateTimeFormat().resolvedOptions().timeZone || "";

// Asks the clinic; what it answers, with its status. A sign-in page or a hotel's network must not
// pass for an answer, so no redirect is followed and nothing but JSON is read.
home.post = async (path, body) => {
  const answer = await fetch(path, {
    method: "POST",
    redirect: "error",
    headers: { "Content-Type": "application/json" },
    body: JSON.stringify(body),
  });
  return { ok: answer.ok, status: answer.status, read: await answer.json() };
};

home.store = (() => {
  const notes = new Map(); // as they stand on the phone; where it keeps nothing, only while open
  let base = null;

  function open() {
    return new Promise((resolve, reject) => {
      const asked = indexedDB.open("home", 1);
      asked.onupgradeneeded = () => {
        asked.result.createObjectStore("notes");
        asked.result.createObjectStore("outbox", { keyPath: "uuid" });
        asked.result.createObjectStore("received", { keyPath: "uuid" });
      };
      asked.onerror = () => reject(asked.error);
      asked.onblocked = () => reject(new Error("blocked"));
      asked.onsuccess = () => {
        asked.result.onversionchange = () => asked.result.close(); // a newer page goes first
        resolve(asked.result);
      };
    });
  }

  // Runs `work` in one transaction; settles only when it is complete, strictly: on the disk.
  function run(names, mode, work) {
    return new Promise((resolve, reject) => {
      const act = base.transaction(names, mode, { durability: "strict" });
      let value;
      act.oncomplete = () => resolve(value);
      act.onabort = () => reject(act.error ?? new Error("aborted"));
      try {
        value = work(...names.map((name) => act.objectStore(name)), (found) => (value = found));
      } catch (problem) {
        act.abort();
        reject(problem);
      }
    });
  }

  const ready = (async () => {
    try {
      base = await open();
      await run(["notes"], "readwrite", (store) => {
        store.openCursor().onsuccess = ({ target: { result: at } }) => {
          if (at) {
            notes.set(at.key, at.value);
            at.continue();
          } else if (!notes.has("store")) {
            notes.set("store", home.uuid()); // the store's id lives and dies with what it holds
            store.put(notes.get("store"), "store");
          }
        };
      });
    } catch {
      base = null;
      if (!notes.has("store")) notes.set("store", home.uuid());
    }
  })();

  function keep(key, value) {
    if (value === null) notes.delete(key);
    else notes.set(key, value);
    if (!base) return Promise.resolve(false);
    return run(["notes"], "readwrite", (store) => {
      if (value === null) store.delete(key);
      else store.put(value, key);
    }).then(
      () => true,
      () => false,
    );
  }

  return {
    ready,
    run,
    keep,
    keeps: () => base !== null,
    kept: (key, otherwise = null) => notes.get(key) ?? otherwise,
    keptAll: (start) => [...notes].filter(([key]) => key.startsWith(start)).map(([, value]) => value),
    renew: (key, value) => notes.set(key, value), // written in a transaction of another's
    id: () => notes.get("store"),
  };
})();
