// A session, step by step: pain before, each exercise, pain since, a note, and saving it.
home.session = (() => {
  const find = home.find;
  const bare = home.find("template[data-other-lines]").content;
  let session = null; // { record, lines, performances: {ref: {amounts, load_g}}, step }

  const isScore = (step) => step.startsWith("pain_") || step === "effort";
  const hurts = () => Math.max(session.record.pain_worst ?? 0, session.record.pain_after ?? 0) > 0;
  const told = () => session.lines.filter((one) => session.performances[one]);
  const isAnyDone = () => told().some((one) => session.performances[one].amounts.some(Boolean));

  // Asked only where there is something to ask: which exercise hurt, how hard it was.
  const steps = () => [
    "pain_before",
    ...session.lines,
    "pain_worst",
    "pain_after",
    ...(hurts() && told().length ? ["hurt"] : []),
    ...(isAnyDone() ? ["effort"] : []),
    "note",
  ];

  function begin({ day, occasion, lines, version, record }) {
    const isYesterday = day !== home.day();
    session = {
      lines,
      step: 0,
      performances: {},
      easier: {}, // by exercise: its easier step is done instead, and why if that was said
      record: record
        ? { ...record, uuid: home.uuid(), replaces: record.uuid }
        : {
            v: 2,
            uuid: home.uuid(),
            entry: home.uuid(),
            replaces: null,
            owner: home.data.owner,
            day,
            occasion,
            version,
            began_at: isYesterday ? null : new Date().toISOString(),
            zone: home.zone(),
            pain_before: null,
            pain_worst: null,
            pain_after: null,
            pain_next_morning: null,
            effort: null,
            note: "",
            performances: [],
          },
    };
    for (const done of record?.performances ?? []) {
      const of = `${record.version}:${done.line}`;
      session.performances[of] = done;
      if (done.step) session.easier[of] = { why: done.why };
    }
    find("#note").value = session.record.note;
    go(0);
  }

  function resume(kept) {
    session = kept;
    find("#note").value = session.record.note;
    go(session.step);
  }

  function go(step) {
    if (step < 0) {
      leave();
      return;
    }
    session.step = step;
    home.inSession(true);
    home.store.keep("session", session);
    const name = steps()[step];
    if (isScore(name)) showScore(name);
    else if (name === "note") showNote();
    else if (name === "hurt") showHurt();
    else showExercise(name);
  }

  function close() {
    session = null;
    home.store.keep("session", null);
    home.inSession(false);
  }

  function leave() {
    close();
    home.today.show();
  }

  function showYesterday() {
    const { day } = session.record;
    for (const words of home.all("[data-yesterday]")) {
      words.hidden = day === home.day();
      words.textContent = home.say("for_day", { day: home.dayWords(day) });
    }
  }

  function showScore(name) {
    showYesterday();
    home.score.ask(name, session.record[name], {
      onAnswer(value) {
        session.record[name] = value;
        go(session.step + 1);
      },
      onBack: () => go(session.step - 1),
    });
  }

  function article(ref) {
    const selector = `[data-line="${CSS.escape(ref)}"]`;
    return (find(`[data-screen=reading] ${selector}`) ?? bare.querySelector(selector)).cloneNode(true);
  }

  const easierOf = (ref) => session.easier?.[ref]; // one begun on an earlier page has none
  const shown = (ref) => (easierOf(ref) ? `${ref}~easier` : ref);

  function showExercise(ref) {
    showYesterday();
    const line = home.data.lines[shown(ref)];
    const screen = find("[data-screen=exercise]");
    const number = session.lines.indexOf(ref) + 1;
    find("[data-place]", screen).textContent = home.say("place", { n: number, m: session.lines.length });
    const words = article(shown(ref));
    const heading = document.createElement("h1"); // it heads the screen here, not a list
    heading.tabIndex = -1;
    heading.textContent = line.name;
    find("h2", words).replaceWith(heading);
    const place = find("[data-exercise]", screen);
    place.replaceChildren(words);
    home.showFigure(place);
    find("[data-all]", screen).textContent = home.allOf(line);
    find("[data-number]", screen).textContent = home.say(line.load_g ? "number_or_weight" : "number");
    const told = session.performances[ref];
    find("[data-count]", screen).hidden = !line.count;
    for (const button of home.all("[data-all], [data-number], [data-skip]", screen))
      button.setAttribute("aria-pressed", String(told !== undefined && told.confirmed !== false && button.matches(sort(line, told))));
    home.said.show({
      line,
      told,
      usual: home.data.lines[ref],
      isEasier: Boolean(easierOf(ref)),
      did,
      easier(isOn, why) {
        session.easier = { ...session.easier, [ref]: isOn ? { why } : null };
        go(session.step);
      },
      back: () => go(session.step),
    });
    home.screens.show("exercise");
  }

  function sort(line, { amounts, load_g }) {
    if (!amounts.some(Boolean)) return "[data-skip]";
    const isAll = amounts.length === line.sets && amounts.every((amount) => amount === line.low);
    return isAll && (load_g === null || load_g === line.load_g) ? "[data-all]" : "[data-number]";
  }

  function showNote() {
    showYesterday();
    find("[data-above-limit]").hidden = !isAboveLimit(session.record);
    home.screens.show("note");
  }

  function showHurt() {
    showYesterday();
    const named = told().find((one) => session.performances[one].hurt);
    const isAnswered = told().some((one) => session.performances[one].hurt === false);
    home.hurt.ask(
      told().map((one) => ({ ref: one, name: home.data.lines[one].name })),
      {
        present: named ?? (isAnswered ? "" : null),
        isAbove: isAboveLimit(session.record),
        onAnswer(which) {
          for (const one of told()) session.performances[one].hurt = which === null ? undefined : one === which;
          go(session.step + 1);
        },
        onBack: () => go(session.step - 1),
      },
    );
  }

  const isAboveLimit = (record) =>
    Math.max(record.pain_worst ?? 0, record.pain_after ?? 0) > home.data.pain_limit;

  const ref = () => steps()[session.step];

  function did(amounts, load_g, said = {}) {
    const { hurt } = session.performances[ref()] ?? {};
    session.performances[ref()] = { amounts, load_g, ...stepDone(ref(), amounts), ...said, hurt };
    go(session.step + 1);
  }

  // Of an easier step that was done: which, and why if it was said.
  function stepDone(ref, amounts) {
    if (!easierOf(ref) || !amounts.some(Boolean)) return {};
    const { why } = easierOf(ref);
    return { step: home.data.lines[ref].easier.step, ...(why && { why }) };
  }

  // The session ends at this exercise; what was counted of it stays, confirmed or not.
  function stopHere(why) {
    const here = session.performances[ref()];
    if (here === undefined || here.confirmed === false)
      session.performances[ref()] = {
        ...(here ?? { amounts: [], load_g: null }),
        ended: "stopped",
        ...(why && { why }),
      };
    go(session.lines.length + 1);
  }

  function save() {
    session.record.note = find("#note").value.trim();
    const record = recordOf(session);
    home.today.saved(record);
  }

  // What was begun is kept until the record of it is, here or at the clinic.
  function closeOf(uuid) {
    if (session?.record.uuid === uuid) close();
  }

  const saidOf = (performance) =>
    Object.fromEntries(
      ["hurt", "ended", "why", "step"]
        .map((name) => [name, performance[name]])
        .filter(([, value]) => value !== undefined && value !== null),
    );

  // A session as it stands, as a record: what was told of each line, by the key after its version.
  function recordOf({ record, performances, lines }) {
    const told = lines
      .filter((one) => performances[one])
      .map((one) => ({
        line: one.slice(one.indexOf(":") + 1),
        amounts: performances[one].amounts,
        load_g: performances[one].load_g,
        confirmed: performances[one].confirmed ?? true,
        ...saidOf(performances[one]),
      }));
    return { ...record, v: 2, performances: told };
  }

  // The clinic has taken back an exercise of the session that is open: what was done is asked next.
  function planCame(data) {
    const gone =
      session &&
      (session.lines.some((one) => !data.lines[one]) ||
        home.stop.isHeld(session.record.day, session.record.occasion));
    find("[data-changed]").hidden = !gone;
    if (gone && session.step <= session.lines.length) go(session.lines.length + 1);
  }

  const screen = find("[data-screen=exercise]");
  find("[data-all]", screen).addEventListener("click", () => {
    const line = home.data.lines[shown(ref())];
    did(home.asked(line), null);
  });
  find("[data-count]", screen).addEventListener("click", () => {
    const here = ref();
    home.counting.open({
      line: home.data.lines[shown(here)],
      picture: find(".picture", article(shown(here))),
      next: home.data.lines[session.lines[session.lines.indexOf(here) + 1]]?.name,
      done: session.performances[here],
      onTold(amounts) {
        // Counted and not confirmed: labelled so, and never in place of what was confirmed.
        if (session.performances[here] && session.performances[here].confirmed !== false) return;
        session.performances[here] = { amounts, load_g: null, ...stepDone(here, amounts), confirmed: false };
        home.store.keep("session", session);
      },
      onConfirm(amounts, isStopped) {
        if (!isStopped) return did(amounts, null);
        const stopped = (why) => did(amounts, null, { ended: "stopped", ...(why && { why }) });
        home.why.ask("stopped", { onAnswer: stopped, onBack: () => go(session.step) });
      },
      onBack: () => go(session.step),
    });
  });
  find("[data-number]", screen).addEventListener("click", () =>
    home.amounts.open({
      line: home.data.lines[shown(ref())],
      done: session.performances[ref()],
      onConfirm: (amounts, load_g) => did(amounts, load_g),
      onBack: () => go(session.step),
    }),
  );
  find("[data-finish]", screen).addEventListener("click", () =>
    home.why.ask("stopped", { onAnswer: stopHere, onBack: () => go(session.step) }),
  );
  for (const name of ["exercise", "note"])
    find(`[data-screen=${name}] [data-back]`).addEventListener("click", () => go(session.step - 1));
  find("[data-save]").addEventListener("click", save);
  document.addEventListener("home:kept", ({ detail }) => detail.isKept && closeOf(detail.uuid));
  document.addEventListener("home:sending", ({ detail: { state, uuids } }) => {
    if (state === "received") uuids.forEach(closeOf);
  });
  return { begin, resume, close, isAboveLimit, recordOf, planCame };
})();
