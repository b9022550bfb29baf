// Enter and the arrow keys go up and down a day's column of the diary, as one reads a paper sheet.
for (const form of document.querySelectorAll("[data-diary]")) {
  const below = (cell, rows) => {
    const column = cell.closest("td").cellIndex;
    const all = [...form.querySelectorAll("tbody tr, tfoot tr")];
    const step = Math.sign(rows);
    for (let at = all.indexOf(cell.closest("tr")) + step; all[at]; at += step) {
      const next = all[at].cells[column]?.querySelector("input");
      if (next) return next;
    }
    return null;
  };
  form.addEventListener("keydown", (event) => {
    const { target, key } = event;
    if (!target.matches("td input") || event.altKey || event.ctrlKey || event.metaKey) return;
    const rows = { ArrowDown: 1, ArrowUp: -1, Enter: event.shiftKey ? -1 : 1 }[key];
    if (!rows) return;
    event.preventDefault();
    const next = below(target, rows);
    if (next) {
      next.focus();
      if (next.type !== "checkbox") next.select();
    }
  });
}
