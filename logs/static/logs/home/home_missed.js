// Why yesterday's session was not done: asked once, gently, at the next opening; it goes to the
// clinic when there is a connection, and waits on the phone until the clinic has named its day.
home.missed = (() => {
  const { data, store } = home;
  if (!store.kept("since")) store.keep("since", home.day()); // no day before this phone was here

  function isAsked(yesterday) {
    const isKnown = data.why_told?.includes(yesterday) || store.kept("why_asked") === yesterday;
    return !isKnown && store.kept("since") <= yesterday;
  }

  // Shows the question if there is one, and says so.
  function ask(yesterday, { isMissing, onPutIn, onDone }) {
    if (!isMissing || !isAsked(yesterday)) return false;
    const done = () => {
      store.keep("why_asked", yesterday);
      onDone();
    };
    home.why.ask("missed", {
      async onAnswer(reason) {
        if (reason) await keep(yesterday, reason);
        done();
        send();
      },
      onPutIn() {
        store.keep("why_asked", yesterday);
        onPutIn();
      },
      onBack: done,
    });
    return true;
  }

  const waiting = () => store.kept("whys", []);

  async function wait(reasons) {
    await store.keep("whys", reasons);
    document.dispatchEvent(new CustomEvent("home:reasons")); // the file to hand over has them too
  }

  const keep = (day, reason) =>
    wait([...waiting().filter((one) => one.day !== day), { owner: data.owner, day, reason }]);

  let busy = false;

  async function send() {
    if (busy) return;
    busy = true;
    try {
      for (const one of waiting().filter(({ owner }) => owner === data.owner)) {
        const { status, read } = await home.post("/home/missed", one);
        const isUnreadable = status === 400 && read.v === 1;
        if (read.day !== one.day && !isUnreadable) continue; // it stays, and goes another time
        await wait(waiting().filter((other) => other.day !== one.day || other.reason !== one.reason));
      }
    } catch {
      // no connection: it goes after the next contact
    } finally {
      busy = false;
    }
  }

  document.addEventListener("home:contact", send);
  if (waiting().length) document.dispatchEvent(new CustomEvent("home:reasons"));
  return { ask };
})();
