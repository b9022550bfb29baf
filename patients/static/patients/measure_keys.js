// In the grids of an assessment: Enter goes on to the next field of the same side, joint by joint,
// then to the other side; arrows up and down go to the same column of the next row. Tab and everything else stay the browser's.
(() => {
  const fields = () => [...document.querySelectorAll("[data-measures] input[type=text]")].filter((f) => f.offsetParent && !f.disabled);
  const inOrder = () => {
    const all = fields();
    const grid = all.filter((field) => field.closest("table.measures"));
    const sideOf = (field) => field.name.split("-")[1];
    const sides = [...new Set(grid.map(sideOf))];
    return [
      ...sides.flatMap((side) => grid.filter((field) => sideOf(field) === side)),
      ...all.filter((field) => !grid.includes(field)),
    ];
  };
  const inColumn = (field, step) => {
    const cell = field.closest("td");
    let row = cell?.parentElement;
    do row = step > 0 ? row?.nextElementSibling : row?.previousElementSibling;
    while (row && !row.cells[cell.cellIndex]?.querySelector("input:enabled"));
    return row?.cells[cell.cellIndex].querySelector("input:enabled");
  };
  document.addEventListener("keydown", (event) => {
    const field = event.target;
    if (!field.matches?.("[data-measures] input[type=text]") || event.altKey || event.ctrlKey || event.metaKey) return;
    let next;
    if (event.key === "Enter") {
      const all = inOrder();
      next = all[all.indexOf(field) + (event.shiftKey ? -1 : 1)];
      event.preventDefault();
    } else if (event.key === "ArrowDown" || event.key === "ArrowUp") {
      next = inColumn(field, event.key === "ArrowDown" ? 1 : -1);
    }
    if (next) {
      event.preventDefault();
      next.focus();
      next.select();
    }
  });
})();
