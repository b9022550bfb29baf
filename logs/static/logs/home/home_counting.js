// The screen that counts with the patient. A tap anywhere pauses; each set is confirmed by a tap.
// What was counted is told at each set's end and at each pause, so that nothing is lost.
home.counting = (() => {
  const { find, say, voice } = home;
  const screen = find("[data-screen=count]");
  const part = (name) => find(`[data-count-${name}]`, screen);
  let now = null; // { line, next, amounts, confirmed, events, index, from_ms, timer, hooks }

  const isPaused = () => now.timer === null;
  const isLeft = () => now.index < (now.events?.length ?? 0) - 1; // a part of the count is to come
  const place = (set) => say("count_set", { n: set, m: now.line.sets });

  function open({ line, picture, next, done, onTold, onConfirm, onBack }) {
    const amounts = done?.confirmed === false ? [...done.amounts] : [];
    const hooks = { onTold, onConfirm, onBack };
    now = { line, next, amounts, hooks, confirmed: 0, asked: 0, index: 0, timer: null };
    home.nameLine(part("name"), line);
    part("picture").replaceChildren(...(picture ? [picture] : []));
    if (picture) picture.momentAt = momentAt;
    home.showFigure(part("picture"));
    voice.wake();
    part("silent").hidden = voice.speaks();
    home.screens.show("count");
    if (amounts.length) ask();
    else start(1);
  }

  function start(set) {
    now.events = home.countEvents(now.line, set);
    now.index = 0;
    run(0);
  }

  function run(at_s) {
    now.from_ms = performance.now() - at_s * 1000;
    ask(false);
    part("pause").textContent = say("count_pause");
    voice.keepAwake(true);
    wait();
  }

  // Where in a repetition the figure is: with the count, and standing while it is paused.
  function momentAt(figure_s) {
    if (!now?.events) return 0;
    const at_s = isPaused() ? now.stood_s : (performance.now() - now.from_ms) / 1000;
    return home.countMoment(now.line, at_s, figure_s);
  }

  function wait() {
    const due_ms = now.from_ms + now.events[now.index].at_s * 1000;
    now.timer = setTimeout(step, Math.max(0, due_ms - performance.now()));
  }

  function step() {
    const event = now.events[now.index];
    show(event);
    if (event.kind === "end") {
      finish();
      return;
    }
    now.index += 1;
    wait();
  }

  function spoken({ kind, n, left, set }) {
    const words = {
      number: () => String(n),
      hold: () => (n > 1 ? say("count_hold") : say("count_hold_s", { n: left })),
      let_go: () => say("count_let_go"),
      begin: () => say("count_begin"),
      left: () =>
        now.line.unit === "minutes"
          ? say("count_left_min", { n: left / 60 })
          : say("count_left_s", { n: left }),
      rest: () => say("count_rest_s", { n: left }),
      ready: () => `${say("count_ready")}. ${place(set)}. ${home.amount(now.line, now.line.low)}`,
      end: () => `${say("count_end")}. ${now.next ? say("count_next", { name: now.next }) : say("count_last")}`,
    };
    return words[kind]?.() ?? "";
  }

  const CLOCKED = ["hold", "holding", "running", "left", "begin", "rest", "ready", "waiting"];

  function show(event) {
    const { kind, set, n, left, done } = event;
    const labels = { hold: "hold", holding: "hold", let_go: "let_go", rest: "rest", ready: "ready" };
    const isWaiting = ["rest", "ready", "waiting"].includes(kind);
    if (kind === "waiting") labels.waiting = left > 5 ? "rest" : "ready";
    if (kind === "running" || kind === "left")
      labels[kind] = now.line.unit === "minutes" ? "begin" : "hold";
    part("set").textContent = place(set);
    part("words").textContent = labels[kind] ? say(`count_${labels[kind]}`) : "";
    const number = CLOCKED.includes(kind) ? left : (n ?? "");
    part("number").textContent = number.toLocaleString(home.locale);
    part("number").classList.toggle("clock", CLOCKED.includes(kind));
    if (!isWaiting) now.amounts[set - 1] = done;
    if (kind === "set_end" || kind === "end") tell();
    if (isWaiting && set > 1) askSet(set - 1);
    else part("ask").hidden = true;
    voice.cue(kind, spoken(event));
  }

  function tell() {
    if (now.amounts.some(Boolean)) now.hooks.onTold([...now.amounts]);
  }

  function halt() {
    clearTimeout(now.timer);
    now.timer = null;
    now.stood_s = (performance.now() - now.from_ms) / 1000;
    voice.quiet();
    voice.keepAwake(false);
    tell();
  }

  function pause() {
    halt();
    part("words").textContent = say("count_paused");
    part("pause").textContent = say("count_go_on");
    part("stop").hidden = false;
    part("pause").focus({ preventScroll: true });
  }

  // Goes on where a number, a second of a hold or of a rest began, so that it can be followed.
  function goOn() {
    now.index = Math.max(0, now.index - 1);
    while (now.index > 0 && !now.events[now.index].again) now.index -= 1;
    run(now.events[now.index].at_s);
  }

  const toggle = () => (isPaused() ? goOn() : pause());

  // In the rest the set before is asked for; at the end all that is not yet confirmed.
  function askSet(set) {
    if (now.confirmed >= set) return;
    if (now.asked !== set) part("all").textContent = wordsOf(now.amounts.slice(0, set));
    now.asked = set;
    part("ask").hidden = false;
  }

  const wordsOf = (amounts) => home.allOf(now.line, amounts);

  function finish() {
    clearTimeout(now.timer);
    now.timer = null;
    now.stood_s = 0;
    voice.keepAwake(false);
    if (now.confirmed === now.line.sets) confirmAll();
    else ask();
  }

  // At the end, or where the patient stops: the count stands still and asks what is right.
  function ask(isAsking = true) {
    part("running").hidden = isAsking && !isLeft();
    part("stop").hidden = true;
    part("ask").hidden = !isAsking || !now.amounts.length;
    now.atEnd = isAsking;
    if (isAsking) part("all").textContent = wordsOf(now.amounts);
    now.asked = 0;
  }

  function confirmAll() {
    const isShort = now.isStopped && now.amounts.reduce((sum, n) => sum + n, 0) < now.line.sets * now.line.low;
    now.hooks.onConfirm([...now.amounts], isShort);
    now = null;
  }

  function confirmed(amounts) {
    now.amounts = amounts.concat(now.amounts.slice(amounts.length));
    now.confirmed = amounts.length;
    if (now.atEnd) confirmAll();
    else tell();
  }

  const askedAmounts = () => (now.atEnd ? [...now.amounts] : now.amounts.slice(0, now.asked));
  const lastAsNone = (amounts) => amounts.map((one, i) => (i >= now.confirmed ? 0 : one));

  function answer(amounts) {
    confirmed(amounts);
    if (now) part("ask").hidden = true;
  }

  part("all").addEventListener("click", () => answer(askedAmounts()));
  part("none").addEventListener("click", () => answer(lastAsNone(askedAmounts())));
  part("fewer").addEventListener("click", () => {
    const wasAtEnd = now.atEnd;
    if (!wasAtEnd && !isPaused()) pause();
    const back = () => {
      home.screens.show("count");
      if (wasAtEnd) ask();
    };
    home.amounts.open({
      line: { ...now.line, load_g: 0 },
      done: { amounts: askedAmounts(), load_g: null },
      onConfirm(amounts) {
        back();
        answer(amounts);
      },
      onBack: back,
    });
  });
  part("stop").addEventListener("click", () => {
    now.isStopped = true;
    ask();
  });
  part("back").addEventListener("click", () => {
    const { onBack } = now.hooks;
    halt();
    now = null;
    onBack();
  });
  part("pause").addEventListener("click", toggle);

  const isCounting = () => now && home.screens.present() === "count" && (isLeft() || !isPaused());
  document.addEventListener("click", ({ target }) => {
    const control = target.closest("button, a");
    if (isCounting() && !isPaused() && (!control || !screen.contains(control))) pause();
  }, { capture: true });
  document.addEventListener("keydown", (event) => {
    if (event.key !== " " || !isCounting() || event.target.closest("button, a")) return;
    event.preventDefault();
    toggle();
  });
  // What nobody can see or hear is not counted.
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "hidden" && isCounting() && !isPaused()) pause();
  });
  addEventListener("pagehide", () => now && !isPaused() && halt());
  return { open };
})();
