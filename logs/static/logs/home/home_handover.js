// Hands what waits over as a file, where the phone does not reach the clinic: by the phone's own
// sharing, else as a download. Nothing leaves the phone by it: what was handed over is only noted,
// and goes when the clinic itself has named it. The form: fixtures/handover.schema.json.
(() => {
  const places = () => [...document.querySelectorAll("[data-handover]")];
  const reasons = () => home.store.kept("whys", []); // why sessions were missed, not yet received
  let made = null; // { file, uuids }: ready before the press, since sharing must begin in it

  // JSON in canonical form (RFC 8785), for what has no fractions.
  const canonical = (value) => {
    if (Array.isArray(value)) return `[${value.map(canonical).join(",")}]`;
    if (value === null || typeof value !== "object") return JSON.stringify(value);
    const names = Object.keys(value).sort();
    return `{${names.map((name) => `${JSON.stringify(name)}:${canonical(value[name])}`).join(",")}}`;
  };

  // CRC-32 (ISO 3309; RFC 1952, section 8), bit by bit: a hundred sessions take a few milliseconds.
  function crc32(text) {
    let rest = 0xffffffff;
    for (const byte of new TextEncoder().encode(text)) {
      rest ^= byte;
      for (let bit = 0; bit < 8; bit++) rest = (rest >>> 1) ^ (rest & 1 ? 0xedb88320 : 0);
    }
    return ((rest ^ 0xffffffff) >>> 0).toString(16).padStart(8, "0");
  }

  function make(rows, missed, owner) {
    const told = {
      form: "handover",
      v: 2,
      owner,
      store: home.store.id(),
      made_at: new Date().toISOString(),
      records: JSON.parse(JSON.stringify(rows.map((row) => row.record))),
      missed: missed.map(({ day, reason }) => ({ day, reason })),
    };
    const text = JSON.stringify({ ...told, sum: crc32(canonical(told)) }, null, 1);
    // Text by its name too: some browsers share no file of an unknown ending.
    const file = new File([text], `sessions-${told.made_at.slice(0, 10)}.txt`, { type: "text/plain" });
    return { file, uuids: rows.map((row) => row.uuid) };
  }

  async function offer() {
    const rows = await home.outbox.all();
    // A phone shut out has no plan any more.
    const owner = home.data?.owner ?? rows.at(-1)?.owner ?? reasons().at(-1)?.owner;
    const [mine, missed] = [rows, reasons()].map((all) => all.filter((one) => one.owner === owner));
    made = mine.length || missed.length ? make(mine, missed, owner) : null;
    for (const place of places()) place.hidden = !made;
  }

  function say(isDone) {
    for (const words of document.querySelectorAll("[data-handover-done]")) words.hidden = !isDone;
  }

  function download({ file }) {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(file);
    link.download = file.name;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
  }

  async function give() {
    const given = made;
    if (!given) return;
    try {
      if (!navigator.canShare?.({ files: [given.file] })) throw new TypeError("no sharing of files");
      await navigator.share({ files: [given.file] });
    } catch (problem) {
      if (problem.name === "AbortError") return; // the patient thought better of it
      download(given);
    }
    await home.store.keep("handed", given.uuids);
    say(true);
    document.dispatchEvent(new CustomEvent("home:handed"));
  }

  document.addEventListener("click", (event) => {
    if (event.target.closest("[data-handover-give]")) give();
  });
  document.addEventListener("home:sending", ({ detail: { state } }) => {
    if (state !== "sending") offer();
    if (state === "received") say(false);
  });
  document.addEventListener("home:bare", offer);
  document.addEventListener("home:reasons", offer);
})();
