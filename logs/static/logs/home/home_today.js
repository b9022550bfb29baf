// The first screen: what today asks for and what is done, yesterday's, and the morning question.
home.today = (() => {
  const { find, all, data, say } = home;
  const opened = home.day();
  let saving = "";

  const dayOf = (day) => data.days[day];
  const told = (day) => data.records.filter((record) => record.day === day);
  const toldOf = (day, number) => told(day).find((record) => record.occasion === number);
  const nextOf = (day) =>
    dayOf(day)?.occasions.find(
      (one) => !toldOf(day, one.number) && !home.stop.isHeld(day, one.number),
    );
  // A kept plan may be days old, so only an earlier day than its own shows a wrong clock.
  const fits = (day) =>
    home.isFresh
      ? [-1, 0, 1].some((moved) => day === shifted(data.today, moved))
      : day >= shifted(data.today, -1);
  const add = (record) => home.learn(data, record);
  for (const { record } of home.atStart) add(record);

  function shifted(day, moved) {
    const at = new Date(`${day}T12:00:00Z`);
    at.setUTCDate(at.getUTCDate() + moved);
    return at.toISOString().slice(0, 10);
  }

  function start(day, occasion) {
    const { version } = dayOf(day);
    home.session.begin({ day, occasion: occasion.number, lines: occasion.lines, version });
  }

  function putRight(record) {
    const of = dayOf(record.day).occasions;
    const planned = of.find((one) => one.number === record.occasion) ?? of[0];
    const mine = record.performances.map((done) => `${record.version}:${done.line}`);
    const lines = [...new Set([...(planned?.lines ?? []), ...mine])].filter(
      (ref) => data.lines[ref] && ref.startsWith(`${record.version}:`),
    );
    home.session.begin({ day: record.day, lines, record });
  }

  function row(words, state, record, day = "") {
    const item = document.createElement("li");
    item.className = record ? "occasion done" : "occasion";
    const text = document.createElement("span");
    text.textContent = `${words}: ${state}`;
    item.append(text);
    if (record) {
      const button = document.createElement("button");
      button.type = "button";
      button.className = "second";
      button.textContent = say("put_right");
      button.setAttribute("aria-label", [`${say("put_right")}: ${words}`, day].filter(Boolean).join(", "));
      button.addEventListener("click", () => putRight(record));
      item.append(button);
    }
    return item;
  }

  function show() {
    const day = home.day();
    const here = fits(day) ? dayOf(day) : undefined;
    find(".date").textContent = home.dayWords(day);
    find("[data-today]").hidden = false;
    find("[data-wrong-day]").hidden = fits(day);
    find("[data-too-old]").hidden = !fits(day) || here !== undefined;
    arrange(here);
    find("[data-today-limit]").hidden = !told(day).some(home.session.isAboveLimit);
    const plain = find("[data-day-words]");
    plain.textContent = here?.words ?? "";
    plain.hidden = !here?.words;
    const occasions = here?.occasions ?? [];
    const extras = told(day).filter((record) => !occasions.some((one) => one.number === record.occasion));
    find("[data-occasions]").replaceChildren(
      ...occasions.map(({ number }) => {
        const record = toldOf(day, number);
        const words = say("session_of", { n: number, m: occasions.length });
        const open = home.stop.isHeld(day, number) ? "on_hold" : "not_yet";
        return row(words, say(record ? "done" : open), record);
      }),
      ...extras.map((record) => row(say("another"), say("done"), record)),
    );
    showYesterday(here);
    home.week.show();
    showWays(day, here, occasions);
    home.stop.showHeld();
    home.screens.show("today");
  }

  // What was put in for yesterday can still be put right.
  function showYesterday(here) {
    const of = home.day(-1);
    const records = here && dayOf(of) && !keptSession() ? told(of) : [];
    const asked = dayOf(of)?.occasions ?? [];
    find("[data-yesterday-told]").hidden = !records.length;
    find("[data-yesterday-occasions]").replaceChildren(
      ...records.map((record) => {
        const isAsked = asked.some((one) => one.number === record.occasion);
        const words = isAsked ? say("session_of", { n: record.occasion, m: asked.length }) : say("another");
        return row(words, say("done"), record, home.dayWords(of));
      }),
    );
  }

  // The words of today's exercises stand in the reading screen, those of other days aside.
  function arrange(here) {
    const reading = find("[data-screen=reading]");
    const aside = find("template[data-other-lines]").content;
    const refs = new Set((here?.occasions ?? []).flatMap((one) => one.lines));
    for (const words of all("[data-line]", reading)) if (!refs.has(words.dataset.line)) aside.append(words);
    for (const ref of refs) {
      const words = find(`[data-line="${CSS.escape(ref)}"]`, aside);
      if (words) reading.insertBefore(words, reading.lastElementChild);
    }
    for (const change of all("[data-change]")) {
      const isRead = home.store.kept("change_read") === change.dataset.change;
      change.hidden = isRead || change.dataset.change !== String(here?.version);
    }
  }

  function showWays(day, here, occasions) {
    const kept = keptSession();
    const next = here && nextOf(day);
    const button = find("[data-start]");
    button.hidden = !kept && !next;
    button.textContent = kept ? say("go_on") : next ? say("start", { n: next.number }) : "";
    button.onclick = () => (kept ? home.session.resume(kept) : start(day, next));
    const isHeld = home.stop.isHeld(day);
    find("[data-all-done]").hidden = !occasions.length || Boolean(next) || isHeld;
    const extra = find("[data-extra]");
    extra.hidden = !occasions.length || Boolean(next) || Boolean(kept) || isHeld;
    extra.onclick = () => start(day, { ...occasions[0], number: null });
    const yesterday = home.day(-1);
    const missing = here && nextOf(yesterday);
    const putIn = find("[data-start-yesterday]");
    putIn.hidden = !missing || Boolean(kept);
    putIn.onclick = () => start(yesterday, missing);
    const read = find("[data-read]");
    read.hidden = !find("[data-screen=reading] [data-line]") || (isHeld && !next);
    read.onclick = () => home.screens.show("reading");
  }

  // A session that was begun and left open: of this plan's owner, of today or yesterday.
  function keptSession() {
    const kept = home.store.kept("session");
    if (!kept) return null;
    const { owner, day } = kept.record;
    const known = kept.lines.every((ref) => data.lines[ref]);
    const isOpen = known && !home.stop.isHeld(day, kept.record.occasion);
    return owner === data.owner && isOpen && [home.day(), home.day(-1)].includes(day) ? kept : null;
  }

  // What was begun on an earlier day, or for a plan that is gone, is not lost: it goes as it stands.
  function saveLeftOpen() {
    const kept = home.store.kept("session");
    // Saved already, and the page closed before it could forget what had been open.
    if (kept && data.records.some((record) => record.uuid === kept.record.uuid))
      return void home.store.keep("session", null);
    if (!kept || keptSession() || kept.record.owner !== data.owner) return;
    const record = home.session.recordOf(kept);
    if (!record.performances.length) return void home.store.keep("session", null);
    home.send.save(record).then((isKept) => isKept && home.store.keep("session", null));
  }

  function saved(record) {
    add(record);
    saving = record.uuid;
    const limit = record.pain_next_morning ?? 0;
    find("[data-morning-limit]").hidden = limit <= data.pain_limit;
    sent("");
    home.week.show();
    for (const words of all("[data-kept]")) words.hidden = true;
    home.screens.show("done");
    return home.send.save(record);
  }

  document.addEventListener("home:kept", ({ detail: { uuid, isKept } }) => {
    if (uuid !== saving) return;
    for (const words of all("[data-kept]")) words.hidden = (words.dataset.kept === "yes") !== isKept;
  });

  function sent(state) {
    for (const words of all("[data-sent]")) words.hidden = words.dataset.sent !== state;
  }

  document.addEventListener("home:sending", ({ detail: { state, uuids } }) => {
    if (uuids.includes(saving)) sent(state);
    const others = uuids.some((uuid) => uuid !== saving) || state !== "received";
    for (const words of all("[data-sending]"))
      words.hidden = words.dataset.sending !== state || !others;
  });

  function askMorning() {
    const day = home.day();
    const last = told(home.day(-1)).at(-1);
    // Where today is held, that stands first: why, and whom to ring.
    const asked = home.store.kept("morning") === day || home.stop.isHeld(day);
    if (!last || asked || told(home.day(-1)).some((record) => record.pain_next_morning !== null))
      return false;
    const done = () => home.store.keep("morning", day);
    for (const words of all("[data-yesterday]")) words.hidden = true;
    home.score.ask("pain_next_morning", null, {
      onAnswer(value) {
        done();
        if (value === null) show();
        else saved({ ...last, uuid: home.uuid(), replaces: last.uuid, pain_next_morning: value });
      },
      onBack: show,
    });
    return true;
  }

  function askMissed() {
    const yesterday = home.day(-1);
    const missing = fits(home.day()) && !keptSession() && nextOf(yesterday);
    return home.missed.ask(yesterday, {
      isMissing: Boolean(missing),
      onPutIn: () => start(yesterday, missing),
      onDone: show,
    });
  }

  find("[data-sending=refused]").hidden = !home.atStart.some((row) => row.refused);

  for (const change of all("[data-change]")) {
    const button = find("[data-change-read]", change);
    button.hidden = false;
    button.addEventListener("click", () => {
      home.store.keep("change_read", change.dataset.change);
      change.hidden = true;
      find("[data-screen=today] h1").focus();
    });
  }
  for (const button of all("[data-home]")) {
    button.hidden = false;
    button.addEventListener("click", show);
  }
  document.addEventListener("visibilitychange", () => {
    const stale = document.visibilityState === "visible" && home.day() !== opened;
    if (stale && home.screens.present() === "today") location.reload();
  });
  saveLeftOpen();
  return { show, saved, planCame: home.session.planCame, open: () => askMorning() || askMissed() || show() };
})();
home.today.open();
