// Adds up a week while it is typed: each day by unit, each line over the week, and a day's tick.
// The server reads cells by the same rules and has the last word.
const diarySums = (() => {
  // The amounts of a cell, or null where it can't be read yet.
  function amounts(text, tick) {
    const typed = text.replace(/(?:@\s*\d{1,3}(?:[.,]\d{1,3})?\s*(?:kg)?|\s\d{1,3}(?:[.,]\d{1,3})?\s*kg)\s*$/i, "").trim();
    if (["x", "X", "✓", "✔"].includes(typed) && tick.length) return tick;
    const found = [];
    for (const word of typed.replace(/(\d+)\s*[x×*]\s*(\d+)/gi, "$1x$2").split(/[\s,;+/]+/)) {
      if (!word) continue;
      const read = /^(?:(\d{1,3})x)?(\d{1,4})$/i.exec(word);
      if (!read) return null;
      const sets = Number(read[1] ?? 1);
      const amount = Number(read[2]);
      if (amount > 999 || sets < 1 || found.length + sets > 20) return null;
      found.push(...Array(sets).fill(amount));
    }
    return found;
  }

  const sum = (numbers) => numbers.reduce((total, number) => total + number, 0);

  function done(cell) {
    if (!cell.value.trim()) return Number(cell.dataset.others);
    const tick = cell.dataset.tick ? cell.dataset.tick.split(" ").map(Number) : [];
    const read = amounts(cell.value, tick);
    cell.classList.toggle("unread", read === null);
    return sum(read ?? []);
  }

  function add(form) {
    const cells = [...form.querySelectorAll("[data-amounts]")];
    for (const output of form.querySelectorAll("[data-day-done]")) {
      const { dayDone, unit } = output.dataset;
      const mine = cells.filter((cell) => cell.dataset.day === dayDone && cell.dataset.unit === unit);
      output.textContent = sum(mine.map(done)) + Number(output.dataset.closed);
    }
    for (const output of form.querySelectorAll("[data-row-done]"))
      output.textContent =
        sum([...output.closest("tr").querySelectorAll("[data-amounts]")].map(done)) +
        Number(output.dataset.closed);
  }

  for (const form of document.querySelectorAll("[data-diary]")) {
    // What a phone told in closed cells is in the server's sums and stays there.
    for (const output of form.querySelectorAll("[data-day-done], [data-row-done]")) {
      output.dataset.closed = 0;
      output.dataset.first = output.textContent;
    }
    add(form);
    for (const output of form.querySelectorAll("[data-day-done], [data-row-done]"))
      output.dataset.closed = Number(output.dataset.first) - Number(output.textContent);
    add(form);
    form.querySelector("[data-scripted]").value = "1";
    form.addEventListener("input", ({ target }) => {
      if (target.matches("[data-amounts]")) add(form);
      const day = target.value.trim() && target.type !== "checkbox" && target.dataset.day;
      const tick = day && form.querySelector(`[data-heard="${day}"]`);
      if (tick) tick.checked = true;
    });
  }
  return { amounts };
})();
