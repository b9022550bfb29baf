// The count of a line as timed events: pure, from its dose and pace. Times are in seconds.
// Each event: at_s, kind, set (from 1), done (what of that set is behind it, in the line's unit),
// and where it says one: n (the number), left (seconds that go on), again (a pause starts here).
(() => {
  const READY_S = 5;
  const CALLED_EVERY_S = 10;

  function repetitions({ amount, pace_s, hold_s, holds }) {
    const events = [];
    const each_s = pace_s + (hold_s ? hold_s * holds.length : 0);
    for (let n = 1; n <= amount; n += 1) {
      const from_s = (n - 1) * each_s;
      events.push({ at_s: from_s, kind: "number", n, done: n - 1, again: true });
      for (const [nth, share] of hold_s ? holds.entries() : []) {
        const hold_from_s = from_s + pace_s * share + hold_s * nth;
        for (let gone = 0; gone < hold_s; gone += 1) {
          const kind = gone ? "holding" : "hold";
          events.push({ at_s: hold_from_s + gone, kind, n, left: hold_s - gone, done: n - 1 });
        }
        events.push({ at_s: hold_from_s + hold_s, kind: "let_go", n, done: n - 1 });
      }
    }
    return { events, length_s: amount * each_s };
  }

  // A hold, or an activity of minutes: each second shows, and some are called.
  function seconds({ amount, unit }) {
    const unit_s = unit === "minutes" ? 60 : 1;
    const length_s = amount * unit_s;
    const called_s = unit === "minutes" ? 60 : CALLED_EVERY_S;
    const events = [];
    for (let gone = 0; gone < length_s; gone += 1) {
      const left = length_s - gone;
      const running = left % called_s ? "running" : "left";
      const kind = gone ? running : unit === "minutes" ? "begin" : "hold";
      events.push({ at_s: gone, kind, left, done: Math.floor(gone / unit_s), again: true });
    }
    const kind = unit === "minutes" ? "stop" : "let_go";
    events.push({ at_s: length_s, kind, done: amount });
    return { events, length_s };
  }

  function waiting(kind, length_s) {
    const events = [];
    for (let gone = 0; gone < length_s; gone += 1) {
      const left = length_s - gone;
      const isReady = left === READY_S || (gone === 0 && length_s <= READY_S);
      const named = isReady ? "ready" : gone === 0 ? kind : "waiting";
      events.push({ at_s: gone, kind: named, left, done: 0, again: true });
    }
    return events;
  }

  const waitBefore = (line, isFirst) =>
    isFirst ? READY_S : Math.max(READY_S, line.count.rest_s);
  const counted = (line) => {
    const count = line.unit === "repetitions" ? repetitions : seconds;
    return count({ ...line.count, amount: line.low, unit: line.unit });
  };

  // From the set that is named: made ready, counted, rested from, to the end of the line.
  home.countEvents = (line, fromSet = 1) => {
    const all = [];
    let at_s = 0;
    const add = (events, set) => {
      for (const event of events) all.push({ ...event, at_s: at_s + event.at_s, set });
    };
    for (let set = fromSet; set <= line.sets; set += 1) {
      const wait_s = waitBefore(line, set === fromSet);
      add(waiting("rest", wait_s), set);
      at_s += wait_s;
      const { events, length_s } = counted(line);
      add(events, set);
      at_s += length_s;
      add([{ at_s: 0, kind: set === line.sets ? "end" : "set_end", done: line.low }], set);
    }
    return all;
  };

  // Where in a repetition (0 to 1) a figure is, at_s after the count began; figure_s is the time of
  // a repetition that nobody counts. It holds where the count holds, and waits at the beginning.
  home.countMoment = (line, at_s, figure_s) => {
    const { length_s } = counted(line);
    let in_s = at_s - waitBefore(line, true);
    const next_s = length_s + waitBefore(line, false);
    if (in_s > 0) in_s %= next_s;
    if (in_s < 0 || in_s >= length_s) return 0;
    const { pace_s, hold_s, holds } = line.count;
    if (line.unit === "seconds") return holds[0];
    if (line.unit === "minutes") return (in_s / figure_s) % 1;
    const stops = hold_s ? holds : [];
    in_s %= pace_s + hold_s * stops.length;
    for (const share of stops) {
      if (in_s < pace_s * share) break;
      if (in_s < pace_s * share + hold_s) return share;
      in_s -= hold_s;
    }
    return in_s / pace_s;
  };
})();
