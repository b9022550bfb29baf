// How the week stands, in one plain line: done of due, today's due ones only once they are done.
home.week = (() => {
  const { all, data, say } = home;

  // What the clinic counted, and what this phone has put in since its plan came.
  function counts() {
    const weekday = (new Date().getDay() + 6) % 7; // from Monday
    let [done, due] = [0, 0];
    for (let back = weekday; back >= 0; back -= 1) {
      const day = home.day(-back);
      const [known, asked] = data.week?.[day] ?? [0, data.days[day]?.occasions.length ?? 0];
      const isDone = (record) => record.performances.some((line) => line.amounts.some(Boolean));
      const here = new Set(
        data.records
          .filter((record) => record.day === day && record.occasion !== null && isDone(record))
          .map((record) => record.occasion),
      ).size;
      const did = Math.min(asked, Math.max(known, here));
      done += did;
      due += back ? asked : did;
    }
    return { done, due };
  }

  function show() {
    const { done, due } = counts();
    for (const words of all("[data-week]")) {
      words.hidden = !due;
      words.textContent = due ? say("week", { done, due }) : "";
    }
  }

  return { show };
})();
