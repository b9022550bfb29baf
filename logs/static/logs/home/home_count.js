// The count of a line as timed events: pure, from its dose and pace. Times are in seconds.
// Each event: at_s, kind, set (from 1), done (what of that set is behind it, in the line's unit),
// and where it says one: n (the number), left (seconds that go on), again (a pause starts here).
home.countEvents = (() => {
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

  // From the set that is named: made ready, counted, rested from, to the end of the line.
  return (line, fromSet = 1) => {
    const count = line.unit === "repetitions" ? repetitions : seconds;
    const all = [];
    let at_s = 0;
    const add = (events, set) => {
      for (const event of events) all.push({ ...event, at_s: at_s + event.at_s, set });
    };
    for (let set = fromSet; set <= line.sets; set += 1) {
      const wait_s = set === fromSet ? READY_S : Math.max(READY_S, line.count.rest_s);
      add(waiting("rest", wait_s), set);
      at_s += wait_s;
      const { events, length_s } = count({ ...line.count, amount: line.low, unit: line.unit });
      add(events, set);
      at_s += length_s;
      add([{ at_s: 0, kind: set === line.sets ? "end" : "set_end", done: line.low }], set);
    }
    return all;
  };
})();
