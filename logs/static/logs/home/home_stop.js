// Stop signs: reporting one by one more tap on the list, and what is held until the clinic answers.
// What this phone has reported holds from the tap on; once the clinic's plan names it, that decides.
home.stop = (() => {
  const { find, all, data, say, store } = home;
  const LAST = 13; // of a day's sessions: from here on it is the next day that is held
  const holding = new Set(all("[data-told-holds]").map((tier) => tier.dataset.told));
  const windows = window.BroadcastChannel ? new BroadcastChannel("home.stop") : null;
  let shown = null; // the record on the screen

  // Each has a note of its own, so that two windows overwrite nothing of each other.
  const noteOf = ({ record }) => `stop.${record.uuid}`;
  const mine = () => store.keptAll("stop.").filter(({ record }) => record.owner === data.owner);
  const keep = (one) => store.keep(noteOf(one), one);

  // Forgets those of this phone of which the clinic's plan tells, or that staff have told anew.
  function settle({ stops, settled }) {
    const named = new Set([...settled, ...stops.map(({ record }) => record.uuid)]);
    const isTold = (one) =>
      stops.some(({ record }) => record.tier === one.record.tier && record.day >= one.record.day);
    for (const one of mine())
      if (named.has(one.record.uuid) || (one.isRefused && isTold(one))) store.keep(noteOf(one), null);
  }

  const isAfter = (day, number, { day: first, from_occasion }) =>
    from_occasion !== null && (day > first || (day === first && number >= from_occasion));

  // What holds that session of a day; of the whole day without a number.
  function holders(day, number) {
    const numbers = number ? [number] : Array.from({ length: LAST - 1 }, (_, n) => n + 1);
    const known = data.stops.filter(({ record, ends_day, ends_occasion }) =>
      numbers.some(
        (one) =>
          isAfter(day, one, record) &&
          (ends_day === null || day < ends_day || (day === ends_day && one < ends_occasion)),
      ),
    );
    return [...known, ...mine().filter(({ record }) => numbers.some((one) => isAfter(day, one, record)))];
  }

  const isHeld = (day, number) => holders(day, number).length > 0;

  function next(day) {
    const asked = data.days[day]?.occasions.map(({ number }) => number) ?? [];
    const told = data.records.filter((one) => one.day === day).map((one) => one.occasion ?? 0);
    const open = asked.find((number) => !told.includes(number));
    return open ?? Math.min(LAST, Math.max(0, ...asked, ...told) + 1);
  }

  // A session that is open ends where it stands, and goes as far as it came.
  function endSession() {
    const kept = store.kept("session");
    if (!kept || kept.record.owner !== data.owner) return null;
    if (home.screens.before() === "note") kept.record.note = find("#note").value.trim();
    const record = home.session.recordOf(kept);
    const isBegun = record.performances.some(({ amounts }) => amounts.some(Boolean));
    if (isBegun) home.learn(data, record);
    return isBegun ? record : null;
  }

  async function report({ tier, sign }, words) {
    const holds = holding.has(tier);
    const ended = holds ? endSession() : null;
    const day = home.day();
    const record = {
      kind: "stop",
      v: 1,
      uuid: home.uuid(),
      owner: data.owner,
      tier,
      sign,
      reported_at: new Date().toISOString(),
      zone: home.zone(),
      day,
      from_occasion: holds ? next(day) : null,
    };
    show(record, words);
    const isKept = home.outbox.add(record); // before anything else: it is the most urgent
    const note = { record, words, isReceived: false, isRefused: false };
    keep(note);
    windows?.postMessage(note);
    document.dispatchEvent(
      new CustomEvent("home:kept", { detail: { uuid: record.uuid, isKept: await isKept } }),
    );
    if (ended) await home.outbox.add(ended);
    if (holds) {
      home.session.close(); // what was begun is kept until the record of it is
      home.screens.leave();
    }
    home.send.flush();
  }

  function show(record, words) {
    shown = record;
    for (const tier of all("[data-told]")) {
      tier.hidden = tier.dataset.told !== record.tier;
      find("[data-told-sign]", tier).textContent = say("stop_told", { sign: words });
    }
    for (const state of all("[data-told-kept], [data-told-sent], [data-told-answer]")) state.hidden = true;
    home.screens.show("told");
  }

  // The panel on the first screen: that today is held, why, and whom to ring if nobody has answered.
  function showHeld() {
    const held = holders(home.day());
    const list = find("[data-held-why]");
    for (const item of all("[data-held-mine]", list)) item.remove();
    for (const item of all("[data-held-of]", list))
      item.hidden = !held.some(({ record }) => record.uuid === item.dataset.heldOf);
    for (const { record, words, isReceived } of held.filter((one) => one.words)) {
      const item = document.createElement("li");
      item.dataset.heldMine = "";
      const state = isReceived ? [say("stop_received"), say("stop_unanswered")] : [say("stop_waiting")];
      item.textContent = [say("stop_told", { sign: words }), ...state].join(" ");
      item.dataset.tier = record.tier;
      list.append(item);
    }
    const waiting = held.filter(({ answer }) => !answer).map(({ record }) => record.tier);
    const ring = all("[data-held-call]").find((call) => waiting.includes(call.dataset.heldCall));
    for (const call of all("[data-held-call]")) call.hidden = call !== ring;
    find("[data-held-ring]").hidden = !waiting.length;
    find("[data-held]").hidden = !held.length;
    for (const answer of all("[data-stop-answer]")) {
      const isRead = store.kept("stop_read", []).includes(answer.dataset.stopAnswer);
      const [uuid] = answer.dataset.stopAnswer.split(".");
      answer.hidden = isRead || held.some(({ record }) => record.uuid === uuid);
    }
  }

  // A plan that came while the page is open: its word on what is held counts at once.
  function planCame(plan) {
    [data.stops, data.settled] = [plan.stops, plan.settled];
    settle(plan);
    const answered = plan.stops.find(({ record, answer }) => answer && record.uuid === shown?.uuid);
    if (!answered) return;
    const words = find("[data-told-answer]");
    find("strong", words).textContent = answered.said;
    words.hidden = false;
  }

  document.addEventListener("home:kept", ({ detail: { uuid, isKept } }) => {
    if (uuid !== shown?.uuid) return;
    for (const words of all("[data-told-kept]")) words.hidden = (words.dataset.toldKept === "yes") !== isKept;
  });

  document.addEventListener("home:sending", ({ detail: { state, uuids } }) => {
    const isOfMine = ({ record }) => uuids.includes(record.uuid);
    if (["received", "refused"].includes(state))
      for (const one of mine().filter(isOfMine))
        keep({ ...one, isReceived: state === "received", isRefused: state === "refused" });
    if (uuids.includes(shown?.uuid))
      for (const words of all("[data-told-sent]")) words.hidden = words.dataset.toldSent !== state;
    if (home.screens.present() === "today") showHeld();
  });

  // Another window of this phone has reported: it holds here as well.
  windows?.addEventListener("message", ({ data: one }) => {
    store.renew(noteOf(one), one);
    home.session.planCame(data);
    if (home.screens.present() === "today") home.today.show();
  });

  for (const item of all("[data-sign]")) {
    const button = document.createElement("button");
    const words = item.textContent;
    button.type = "button";
    button.className = "second";
    button.textContent = words;
    button.addEventListener("click", () => report(item.dataset, words));
    item.replaceChildren(button);
  }
  find("[data-stop-how]").hidden = false;
  find("[data-told-back]").addEventListener("click", () => {
    const { from_occasion } = shown;
    shown = null;
    if (from_occasion === null) home.screens.back();
    else home.today.show();
  });
  for (const answer of all("[data-stop-answer]")) {
    const button = find("[data-stop-answer-read]", answer);
    button.hidden = false;
    button.addEventListener("click", async () => {
      const before = store.kept("stop_read", []).slice(-20);
      await store.keep("stop_read", [...before, answer.dataset.stopAnswer]);
      answer.hidden = true;
      find("[data-screen=today] h1").focus();
    });
  }

  // Killed between the outbox and the note of what holds: the outbox has it.
  const known = new Set(mine().map(({ record }) => record.uuid));
  for (const { record, refused } of home.atStart) {
    if (record.kind !== "stop" || record.owner !== data.owner || known.has(record.uuid)) continue;
    const words = find(`[data-sign="${CSS.escape(record.sign)}"]`)?.textContent ?? record.sign;
    keep({ record, words, isReceived: false, isRefused: Boolean(refused) });
  }
  settle(data);
  return {
    isHeld,
    showHeld,
    planCame,
    // What a clinic's server that was put back may want again.
    records: () => [...data.stops.filter((one) => one.is_from_phone), ...mine()].map(({ record }) => record),
  };
})();
