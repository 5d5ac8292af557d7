/* Whether the last thing touched was a pointer: a click must not count twice. */
let pointing = false;
document.addEventListener("pointerdown", () => { pointing = true; }, true);
document.addEventListener("keydown", () => { pointing = false; }, true);

/* The report: every group can be pointed at, walked to, and read figure by figure. */
function listenToReport() {
  const groups = [...document.querySelectorAll(".g")];
  const byGroup = new Map(groups.map((element) => [Number(element.dataset.g), element]));
  for (const element of groups) {
    const index = Number(element.dataset.g);
    element.addEventListener("pointerenter", (event) => {
      if (!view.pinned && event.pointerType === "mouse") markGroup(index, false);
    });
    element.addEventListener("pointerleave", () => {
      if (!view.pinned) unmark();
    });
    element.addEventListener("click", () => {
      rove(groups, element);
      if (view.pinned && view.group === index) unmark();
      else markGroup(index, true);
      keepInSight(element);
    });
    element.addEventListener("focus", () => {
      if (!pointing && view.group !== index) markGroup(index, true);
      if (!pointing) keepInSight(element);
    });
  }
  walk(groups, "report-parts");
  follow(() => {
    const kin = view.level === null ? [] : LEVELS[view.level].groups;
    byGroup.forEach((element, index) => {
      element.classList.toggle("on", index === view.group);
      element.classList.toggle("kin", index !== view.group && kin.includes(index));
    });
    reading();
  });
}

/* What the group says is in sight, and does not lie over the group itself. */
function keepInSight(element) {
  part("reading").scrollIntoView({ block: "nearest", inline: "nearest" });
  element.scrollIntoView({ block: "nearest", inline: "nearest" });
  const group = element.getBoundingClientRect();
  const sheet = part("reading").getBoundingClientRect();
  if (group.bottom + 6 <= sheet.top || group.top >= sheet.bottom) return;
  const report = part("report");
  const inner = report.scrollHeight > report.clientHeight + 1 && getComputedStyle(report).overflowY === "auto";
  (inner ? report : document.scrollingElement).scrollBy(0, group.bottom + 6 - sheet.top);
}

/* One stop for the tabulator, arrows inside. */
function rove(elements, chosen) {
  for (const element of elements) element.tabIndex = element === chosen ? 0 : -1;
}

function walk(elements, host) {
  if (!elements.length) return;
  elements[0].tabIndex = 0;
  part(host).addEventListener("keydown", (event) => {
    const place = elements.indexOf(document.activeElement);
    if (place < 0) return;
    const steps = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1, PageDown: 10, PageUp: -10 };
    let next = null;
    if (event.key in steps) next = place + steps[event.key];
    else if (event.key === "Home") next = 0;
    else if (event.key === "End") next = elements.length - 1;
    else if (event.key === "Enter" || event.key === " ") elements[place].click();
    else return;
    event.preventDefault();
    if (next === null) return;
    const chosen = elements[Math.min(elements.length - 1, Math.max(0, next))];
    rove(elements, chosen);
    chosen.focus();
  });
}

/* What the marked group or level says. */
function reading() {
  const host = part("reading");
  if (view.group === null && view.level === null) {
    host.replaceChildren();
    make("p", host, part("reading").dataset.empty, "quiet");
    return;
  }
  host.classList.add("used");
  const sheet = document.createDocumentFragment();
  if (view.group !== null) readGroup(sheet, GROUPS[view.group]);
  if (view.level !== null) readLevel(sheet, view.level);
  if (view.pinned) make("p", sheet, "Held. Press Escape or point at it again to let go.", "quiet");
  host.replaceChildren(sheet);
}

function readGroup(host, group) {
  const head = make("p", host, null, "reading-head");
  make("code", head, group.text, "big");
  head.append(` ${group.title}`);
  make("p", host, `${group.part}, section ${group.section}: ${group.section_title}`, "quiet");
  if (group.received !== null) make("p", host, `Repaired: received as ${group.received}`);
  const list = make("dl", host, null, "figures");
  for (const figures of group.figures) {
    const term = make("dt", list);
    make("code", term, figures.text);
    make("span", term, figures.symbol, "symbol");
    const table = figures.table ? ` (code table ${figures.table})` : "";
    make("dd", list, figures.sentence + table);
  }
  for (const index of group.diagnostics) readDiagnostic(host, PAGE.diagnostics[index]);
}

function readDiagnostic(host, item) {
  const box = make("div", host, null, "found " + item.severity);
  make("p", box, `${item.severity}: ${item.message}`);
  if (item.expected) {
    const words = { "repair-proposed": "Proposed", repaired: "Read as" };
    const word = words[item.code] || "Expected";
    make("p", box, `${word}: ${item.expected}`);
  }
  if (item.hint) make("p", box, item.hint);
  if (item.source) make("p", box, item.source, "quiet");
}

function readLevel(host, index) {
  const level = LEVELS[index];
  const head = make("p", host, null, "reading-head");
  make("strong", head, levelName(index));
  head.append(` ${level.kinds.join(", ")}`);
  make("p", host, saidAt(level));
  for (const reason of level.reasons) {
    const line = make("p", host, reason.text, "reason");
    make("span", line, ` ${reason.rule}${reason.source ? "; " + reason.source : ""}`, "quiet");
  }
  if (level.rows.length) make("p", host, `From ${rowsWords(level.rows)} of the flight.`, "quiet");
  for (const carrier of PAGE.carriers) readCarrier(host, carrier, index);
  const others = level.groups.filter((other) => other !== view.group);
  if (others.length) {
    const line = make("p", host, view.group === null ? "Groups: " : "Also in: ");
    for (const other of others) {
      make("code", line, GROUPS[other].text);
      line.append(` ${GROUPS[other].part} `);
    }
  }
  for (const position of level.diagnostics) {
    if (view.group !== null && GROUPS[view.group].diagnostics.includes(position)) continue;
    readDiagnostic(host, PAGE.diagnostics[position]);
  }
}

/* The elements or variables of another carrier at a level, those that are there. */
function readCarrier(host, carrier, index) {
  const row = carrier.rows.find((item) => item.level === index);
  if (!row) return;
  const line = make("p", host, `${carrier.kind}, ${row.place}: `, "quiet");
  row.cells.forEach((value, place) => {
    const column = carrier.columns[place];
    if (value === null || !column.words) return;
    make("code", line, column.name);
    line.append(` ${column.words} ${value}; `);
  });
}

function saidAt(level) {
  const words = [];
  for (const [name, word] of [
    ["geopotential_height", "height"],
    ["air_temperature", "temperature"],
    ["dew_point_depression", "dew-point depression"],
  ]) {
    if (level.sent[name] !== null) words.push(`${word} ${show(name, level.sent[name], true)}`);
  }
  if (level.sent.wind_speed !== null && level.sent.wind_from_direction !== null) {
    const from = show("wind_from_direction", level.sent.wind_from_direction, true);
    words.push(`wind ${from} ${show("wind_speed", level.sent.wind_speed, true)}`);
  }
  return words.length ? `Says ${words.join(", ")}.` : "Says nothing but its pressure.";
}

function rowsWords(rows) {
  const lines = rows.filter((row) => row !== 0).map(String);
  const words = [];
  if (rows.includes(0)) words.push("the surface observation");
  if (lines.length > 6) words.push(`lines ${lines[0]} to ${lines[lines.length - 1]}`);
  else if (lines.length) words.push(`line${lines.length > 1 ? "s" : ""} ${lines.join(", ")}`);
  return words.join(" and ");
}
