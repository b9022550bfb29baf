// Arrow keys move between the days of a calendar, which is one stop for the Tab key.
// Without this script every day is a link of its own.
(() => {
  const steps = { ArrowLeft: [0, -1], ArrowRight: [0, 1], ArrowUp: [-1, 0], ArrowDown: [1, 0] };
  for (const table of document.querySelectorAll("[data-day-grid]")) {
    const rows = [...table.tBodies[0].rows].map((row) =>
      [...row.cells].slice(1, 8).map((cell) => cell.querySelector("a")));
    const days = rows.flat().filter(Boolean);
    days.forEach((day, place) => { day.tabIndex = place ? -1 : 0; });
    const stop = (day) => {
      days.forEach((other) => { other.tabIndex = other === day ? 0 : -1; });
      day.focus();
    };
    table.addEventListener("keydown", (event) => {
      const step = steps[event.key];
      const row = rows.findIndex((cells) => cells.includes(event.target));
      if (!step || row < 0) return;
      event.preventDefault();
      let [at, column] = [row, rows[row].indexOf(event.target)];
      do {
        at += step[0];
        column += step[1];
        if (column < 0) { at -= 1; column = 6; }
        if (column > 6) { at += 1; column = 0; }
      } while (rows[at] && !rows[at][column]);
      if (rows[at]) stop(rows[at][column]);
    });
  }
})();
