// What this phone keeps: the store's own id, entries that wait to be sent, and small notes.
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

home.store = (() => {
  const unkept = new Map(); // where the browser keeps nothing, this page still works while open
  const name = (key) => `home.${key}`;

  function kept(key, otherwise = null) {
    if (unkept.has(key)) return unkept.get(key);
    try {
      return JSON.parse(localStorage.getItem(name(key))) ?? otherwise;
    } catch {
      return otherwise;
    }
  }

  function keep(key, value) {
    try {
      if (value === null) localStorage.removeItem(name(key));
      else localStorage.setItem(name(key), JSON.stringify(value));
      unkept.delete(key);
    } catch {
      unkept.set(key, value);
    }
  }

  function id() {
    const present = kept("store");
    if (present) return present;
    keep("store", home.uuid());
    return kept("store");
  }

  const waiting = () => kept("waiting", []);
  const refused = () => kept("refused", []);
  const without = (records, uuids) => records.filter((record) => !uuids.includes(record.uuid));

  return {
    id,
    kept,
    keep,
    waiting,
    refused,
    // Refused ones stay on the phone and count as not sent: nothing is dropped unread.
    pending: () => waiting().length + refused().length,
    put: (record) => keep("waiting", [...without(waiting(), [record.uuid]), record]),
    drop: (uuids) => keep("waiting", without(waiting(), uuids)),
    refuse(record, code) {
      keep("refused", [...without(refused(), [record.uuid]), { ...record, code }]);
      keep("waiting", without(waiting(), [record.uuid]));
    },
  };
})();
