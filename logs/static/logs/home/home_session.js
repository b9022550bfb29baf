// A session, step by step: pain before, each exercise, pain since, a note, and saving it.
home.session = (() => {
  const find = home.find;
  const bare = home.find("template[data-other-lines]").content;
  let session = null; // { record, lines, performances: {ref: {amounts, load_g}}, step }

  const steps = () => ["pain_before", ...session.lines, "pain_worst", "pain_after", "note"];
  const isScore = (step) => step.startsWith("pain_");

  function begin({ day, occasion, lines, version, record }) {
    const isYesterday = day !== home.day();
    session = {
      lines,
      step: 0,
      performances: {},
      record: record
        ? { ...record, uuid: home.uuid(), replaces: record.uuid }
        : {
            v: 1,
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
    for (const done of record?.performances ?? [])
      session.performances[`${record.version}:${done.line}`] = done;
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

  function showExercise(ref) {
    showYesterday();
    const line = home.data.lines[ref];
    const screen = find("[data-screen=exercise]");
    const number = session.lines.indexOf(ref) + 1;
    find("[data-place]", screen).textContent = home.say("place", { n: number, m: session.lines.length });
    const words = article(ref);
    const heading = document.createElement("h1"); // it heads the screen here, not a list
    heading.tabIndex = -1;
    heading.textContent = line.name;
    find("h2", words).replaceWith(heading);
    const place = find("[data-exercise]", screen);
    place.replaceChildren(words);
    home.showFigure(place);
    const each = home.listed(Array(line.sets).fill(home.amount(line, line.low)));
    find("[data-all]", screen).textContent = home.say("all", { each });
    find("[data-number]", screen).textContent = home.say(line.load_g ? "number_or_weight" : "number");
    const told = session.performances[ref];
    find("[data-count]", screen).hidden = !line.count;
    for (const button of home.all("[data-all], [data-number], [data-none]", screen))
      button.setAttribute("aria-pressed", String(told !== undefined && told.confirmed !== false && button.matches(sort(line, told))));
    home.screens.show("exercise");
  }

  function sort(line, { amounts, load_g }) {
    if (!amounts.some(Boolean)) return "[data-none]";
    const isAll = amounts.length === line.sets && amounts.every((amount) => amount === line.low);
    return isAll && (load_g === null || load_g === line.load_g) ? "[data-all]" : "[data-number]";
  }

  function showNote() {
    showYesterday();
    find("[data-above-limit]").hidden = !isAboveLimit(session.record);
    home.screens.show("note");
  }

  const isAboveLimit = (record) =>
    Math.max(record.pain_worst ?? 0, record.pain_after ?? 0) > home.data.pain_limit;

  const ref = () => steps()[session.step];

  function did(amounts, load_g) {
    session.performances[ref()] = { amounts, load_g };
    go(session.step + 1);
  }

  function save() {
    session.record.note = find("#note").value.trim();
    const record = recordOf(session);
    home.today.saved(record).then(close); // what was begun is kept until the record of it is
  }

  // A session as it stands, as a record: what was told of each line, by the key after its version.
  function recordOf({ record, performances, lines }) {
    const told = lines
      .filter((one) => performances[one])
      .map((one) => ({
        line: one.slice(one.indexOf(":") + 1),
        amounts: performances[one].amounts,
        load_g: performances[one].load_g,
        confirmed: performances[one].confirmed ?? true,
      }));
    return { ...record, performances: told };
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
    const line = home.data.lines[ref()];
    did(Array(line.sets).fill(line.low), null);
  });
  find("[data-none]", screen).addEventListener("click", () => did([], null));
  find("[data-count]", screen).addEventListener("click", () => {
    const here = ref();
    home.counting.open({
      line: home.data.lines[here],
      picture: find(".picture", article(here)),
      next: home.data.lines[session.lines[session.lines.indexOf(here) + 1]]?.name,
      done: session.performances[here],
      onTold(amounts) {
        // Counted and not confirmed: labelled so, and never in place of what was confirmed.
        if (session.performances[here] && session.performances[here].confirmed !== false) return;
        session.performances[here] = { amounts, load_g: null, confirmed: false };
        home.store.keep("session", session);
      },
      onConfirm: (amounts) => did(amounts, null),
      onBack: () => go(session.step),
    });
  });
  find("[data-number]", screen).addEventListener("click", () =>
    home.amounts.open({
      line: home.data.lines[ref()],
      done: session.performances[ref()],
      onConfirm: did,
      onBack: () => go(session.step),
    }),
  );
  find("[data-finish]", screen).addEventListener("click", () => go(session.lines.length + 1));
  for (const name of ["exercise", "note"])
    find(`[data-screen=${name}] [data-back]`).addEventListener("click", () => go(session.step - 1));
  find("[data-save]").addEventListener("click", save);
  return { begin, resume, close, isAboveLimit, recordOf, planCame };
})();
