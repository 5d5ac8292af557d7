/* The level table: sorted, shown in other units, copied; the report stays as it is. */
const NUMBERS = [...document.querySelectorAll("#level-table th[data-name]")]
  .map((head) => head.dataset.name)
  .filter((name) => name in UNITS);
/* The quantity that names a level: pressure, or height where no level has a pressure. */
const LEAD = NUMBERS[0];

function tableRows() {
  return [...document.querySelectorAll("#level-rows tr")];
}

function valuesOf(row) {
  const level = LEVELS[Number(row.dataset.l)];
  return view.values === "sent" ? level.sent : level.flown || {};
}

/* Pressure before coding has hundredths; everything else keeps its decimals and one more. */
function cellText(name, value) {
  if (value === null || value === undefined) return "–";
  if (view.values === "sent") return show(name, value, false);
  if (name === "air_pressure") return fixed(value, 2);
  const unit = UNITS[name]();
  return fixed(value * unit.factor, unit.decimals + 1);
}

function fillTable() {
  for (const row of tableRows()) {
    const values = valuesOf(row);
    NUMBERS.forEach((name, place) => {
      const cell = row.cells[place + 1];
      if (name === LEAD) return;
      cell.textContent = cellText(name, values[name]);
    });
    const pick = row.querySelector(".pick");
    pick.textContent = cellText(LEAD, values[LEAD]);
    pick.setAttribute("aria-label", levelName(Number(row.dataset.l)));
  }
  for (const head of document.querySelectorAll("#level-table th[data-name]")) {
    const unit = UNITS[head.dataset.name];
    if (unit) head.querySelector(".unit").textContent = unit().word;
  }
}

function sortTable(head, place) {
  const down = head.getAttribute("aria-sort") === "ascending";
  for (const other of document.querySelectorAll("#level-table th[aria-sort]")) {
    other.setAttribute("aria-sort", "none");
  }
  head.setAttribute("aria-sort", down ? "descending" : "ascending");
  const sign = down ? -1 : 1;
  const name = head.dataset.name;
  const key = (row) => {
    if (name === "kinds" || name === "rules") return row.cells[place].textContent;
    if (name === "groups") return LEVELS[Number(row.dataset.l)].groups.length;
    const value = valuesOf(row)[name];
    return value === undefined ? null : value;
  };
  const rows = tableRows().sort((one, other) => {
    const a = key(one);
    const b = key(other);
    if (a === null || b === null) return (a === null) - (b === null);
    if (a === b) return Number(one.dataset.l) - Number(other.dataset.l);
    return (a < b ? -1 : 1) * sign;
  });
  part("level-rows").append(...rows);
}

function copyTable() {
  const heads = [...document.querySelectorAll("#level-table thead th")].map((head) => {
    const unit = head.querySelector(".unit");
    const word = head.querySelector(".sort").textContent.trim();
    return unit && unit.textContent ? `${word} [${unit.textContent}]` : word;
  });
  const lines = [heads.join("\t")];
  for (const row of tableRows()) {
    if (row.hidden) continue;
    const cells = [...row.cells].map((cell) => cell.textContent.trim());
    lines.push(cells.map((text) => (text === "–" ? "" : text.replace("\u2212", "-"))).join("\t"));
  }
  copyText(lines.join("\n") + "\n", "The table was copied.");
}

function copyText(text, done) {
  const tell = (words) => {
    part("told").textContent = words;
  };
  const byHand = () => {
    const field = make("textarea", document.body, text);
    field.select();
    const worked = document.execCommand("copy");
    field.remove();
    tell(worked ? done : "The browser does not allow copying; select the text instead.");
  };
  if (navigator.clipboard && window.isSecureContext) {
    navigator.clipboard.writeText(text).then(() => tell(done), byHand);
  } else {
    byHand();
  }
}

function showKinds(wanted) {
  for (const row of tableRows()) {
    const level = LEVELS[Number(row.dataset.l)];
    row.hidden = wanted !== "all" && !wanted.split(" ").some((kind) => level.marks.includes(kind));
  }
}

/* Rows of other carriers: tied to the level they belong to, both ways. */
function listenToCarriers() {
  const rows = [...document.querySelectorAll(".carrier tr[data-l]")];
  for (const row of rows) {
    const index = Number(row.dataset.l);
    const pick = make("span", row.querySelector(".at-level"), levelName(index), "pick");
    pick.setAttribute("role", "button");
    pick.tabIndex = 0;
    pick.addEventListener("focus", () => {
      if (!pointing && view.level !== index) markLevel(index, true);
    });
    row.addEventListener("pointerenter", (event) => {
      if (!view.pinned && event.pointerType === "mouse") markLevel(index, false);
    });
    row.addEventListener("pointerleave", () => {
      if (!view.pinned) unmark();
    });
    row.addEventListener("click", () => {
      if (view.pinned && view.level === index && view.group === null) unmark();
      else markLevel(index, true);
    });
  }
  follow(() => {
    for (const row of rows) row.classList.toggle("on", Number(row.dataset.l) === view.level);
  });
}

function listenToTable() {
  document.querySelectorAll("#level-table thead th").forEach((head, place) => {
    const button = head.querySelector(".sort");
    if (button) button.addEventListener("click", () => sortTable(head, place));
  });
  const picks = [...document.querySelectorAll("#level-rows .pick")];
  for (const row of tableRows()) {
    const index = Number(row.dataset.l);
    row.addEventListener("pointerenter", (event) => {
      if (!view.pinned && event.pointerType === "mouse") markLevel(index, false);
    });
    row.addEventListener("pointerleave", () => {
      if (!view.pinned) unmark();
    });
    row.addEventListener("click", () => {
      if (view.pinned && view.level === index && view.group === null) unmark();
      else markLevel(index, true);
    });
  }
  for (const pick of picks) {
    pick.addEventListener("focus", () => {
      const index = Number(pick.closest("tr").dataset.l);
      if (!pointing && view.level !== index) markLevel(index, true);
    });
    pick.addEventListener("keydown", (event) => {
      const now = tableRows().filter((row) => !row.hidden).map((row) => row.querySelector(".pick"));
      const place = now.indexOf(pick);
      const steps = { ArrowDown: 1, ArrowUp: -1, PageDown: 10, PageUp: -10 };
      if (event.key === "Enter" || event.key === " ") pick.click();
      else if (event.key in steps) {
        const next = now[Math.min(now.length - 1, Math.max(0, place + steps[event.key]))];
        rove(picks, next);
        next.focus();
      } else return;
      event.preventDefault();
    });
  }
  if (picks.length) picks[0].tabIndex = 0;
  follow(() => {
    for (const row of tableRows()) {
      row.classList.toggle("on", Number(row.dataset.l) === view.level);
    }
  });
}
