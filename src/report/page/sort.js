"use strict";
(() => {
  const table = document.querySelector("table");
  const body = table.tBodies[0];
  const headings = [...table.tHead.rows[0].cells];
  const filter = document.getElementById("filter");
  const said = document.getElementById("said");

  const compare = (asNumbers, sign) => (a, b) => {
    // What is missing comes last either way.
    if (a.key === "" || b.key === "") return (a.key === "") - (b.key === "") || a.place - b.place;
    const order = asNumbers ? a.key - b.key : a.key.localeCompare(b.key, undefined, { numeric: true });
    return sign * order || a.place - b.place;
  };

  const sortBy = (heading) => {
    const column = heading.cellIndex;
    const way = heading.getAttribute("aria-sort") === "ascending" ? "descending" : "ascending";
    const rows = [...body.rows].map((row, place) => ({ row, place, key: row.cells[column].dataset.key }));
    rows.sort(compare(heading.dataset.sort === "number", way === "ascending" ? 1 : -1));
    body.append(...rows.map(({ row }) => row));
    for (const other of headings) other.removeAttribute("aria-sort");
    heading.setAttribute("aria-sort", way);
    said.textContent = `Sorted by ${heading.textContent.trim()}, ${way}.`;
  };

  for (const heading of headings) {
    heading.querySelector("button").addEventListener("click", () => sortBy(heading));
  }

  filter.addEventListener("input", () => {
    const wanted = filter.value.trim().toLowerCase();
    let shown = 0;
    for (const row of body.rows) {
      row.hidden = !row.textContent.toLowerCase().includes(wanted);
      shown += !row.hidden;
    }
    said.textContent = `${shown} of ${body.rows.length} shown.`;
  });
})();
