// What the phone had no room for: it says so, what was put in stays open, and it may be tried again
// until the phone has kept it or the clinic has received it.
(() => {
  const { find } = home;
  const again = find("[data-keep-again]");
  const unkept = new Set();

  function settle(uuid, isKept) {
    if (isKept) unkept.delete(uuid);
    else unkept.add(uuid);
    again.hidden = unkept.size === 0;
  }

  again.addEventListener("click", async () => {
    for (const { uuid, record } of await home.outbox.all())
      if (unkept.has(uuid)) await home.send.save(record);
  });
  document.addEventListener("home:kept", ({ detail: { uuid, isKept } }) => settle(uuid, isKept));
  document.addEventListener("home:sending", ({ detail: { state, uuids } }) => {
    if (state !== "received" || !unkept.size) return;
    for (const uuid of uuids) settle(uuid, true);
    if (!unkept.size) find("[data-kept=no]").hidden = true; // the clinic has it, which is more
  });
})();
