"use strict";
// Sorts, filters and groups the rows a page already holds; without it every row stands there all the same.
(() => {
  const words = new Intl.Collator(document.documentElement.lang, { numeric: true });

  const keyOf = (row, column) => {
    const cell = row.cells[column];
    const mark = cell && cell.querySelector("data[value]");
    if (mark) return mark.value === "" ? null : Number(mark.value);
    const named = cell && (cell.querySelector(".who") || cell);
    const text = named && !cell.querySelector(".nil") ? named.textContent.trim() : "";
    return text === "" ? null : text;
  };

  // What has no figure stands last, whatever the order.
  const compare = (one, other, way) => {
    if (one === null || other === null) return (one === null) - (other === null);
    if (typeof one === "number" && typeof other === "number") return way * (one - other);
    return way * words.compare(String(one), String(other));
  };

  // Heads in the order of the columns: a head may span rows or columns.
  const headsOf = (table) => {
    const grid = [];
    [...table.tHead.rows].forEach((row, line) => {
      let column = 0;
      for (const cell of row.cells) {
        while (grid[line] && grid[line][column]) column += 1;
        for (let down = 0; down < cell.rowSpan; down += 1)
          for (let across = 0; across < cell.colSpan; across += 1)
            (grid[line + down] ||= [])[column + across] = cell;
        column += cell.colSpan;
      }
    });
    return grid[grid.length - 1] || [];
  };

  const setUp = (table) => {
    const { unstated } = table.closest("[data-sortable]").dataset;
    const groupOf = (row, name) => {
      const found = name && row.querySelector(`[data-group="${name}"]`);
      return found ? found.textContent.trim() : unstated;
    };
    const rows = [...table.tBodies].flatMap((body) => [...body.rows]);
    const heads = headsOf(table);
    const state = { column: -1, way: 1, group: "", keep: () => true };
    const told = [];

    const body = (name, inside) => {
      const made = document.createElement("tbody");
      if (name !== null) {
        const head = made.insertRow();
        head.className = "group";
        const cell = document.createElement("th");
        cell.scope = "rowgroup";
        cell.colSpan = heads.length;
        const shown = inside.filter((row) => !row.hidden).length;
        const label = document.createElement("bdi");
        label.textContent = name;
        cell.append(label, ` (${shown})`);
        head.append(cell);
        head.hidden = shown === 0;
      }
      made.append(...inside);
      return made;
    };

    const draw = () => {
      rows.forEach((row) => { row.hidden = !state.keep(row); });
      const ordered = state.column < 0 ? [...rows] : rows
        .map((row) => [keyOf(row, state.column), row])
        .sort((one, other) => compare(one[0], other[0], state.way))
        .map((pair) => pair[1]);
      const names = state.group ? [...new Set(rows.map((row) => groupOf(row, state.group)))].sort(words.compare) : [null];
      const bodies = names.map((name) =>
        body(name, name === null ? ordered : ordered.filter((row) => groupOf(row, state.group) === name)));
      [...table.tBodies].forEach((old) => old.remove());
      table.append(...bodies);
      heads.forEach((head, column) => {
        if (column === state.column) head.setAttribute("aria-sort", state.way > 0 ? "ascending" : "descending");
        else head.removeAttribute("aria-sort");
      });
      told.forEach((tell) => tell());
    };

    heads.forEach((head, column) => {
      const button = document.createElement("button");
      button.type = "button";
      button.append(...head.childNodes);
      button.addEventListener("click", () => {
        state.way = state.column === column ? -state.way : 1;
        state.column = column;
        draw();
      });
      head.append(button);
    });
    return { rows, heads, state, draw, told };
  };

  const serve = (form, table) => {
    const { rows, heads, state, draw, told } = table;
    const fields = form.elements;
    heads.forEach((head, column) => fields.sort.add(new Option(head.textContent.trim(), String(column))));
    const shows = { outside: ".mark.fail", open: "data.owe" };

    const read = () => {
      const wanted = fields.text.value.trim().toLowerCase();
      const mark = shows[fields.show.value];
      state.keep = (row) =>
        (!mark || row.querySelector(mark) !== null) && row.textContent.toLowerCase().includes(wanted);
      state.group = fields.group.value;
      state.column = Number(fields.sort.value);
      state.way = Number(fields.order.value);
      draw();
    };

    told.push(() => {
      fields.sort.value = String(state.column);
      fields.order.value = String(state.way);
      const shown = rows.filter((row) => !row.hidden).length;
      fields.count.value = form.dataset.shown.replace("{shown}", shown).replace("{all}", rows.length);
    });
    form.addEventListener("submit", (event) => event.preventDefault());
    form.addEventListener("input", read);
    form.addEventListener("reset", () => setTimeout(read));
    form.hidden = false;
    read();
  };

  document.querySelectorAll("[data-sortable] table").forEach((table) => {
    const made = setUp(table);
    const form = document.getElementById(`tools-${table.closest("[data-sortable]").dataset.sortable}`);
    if (form) serve(form, made);
  });
})();
