/* Everything together, and again when the room, the units or the paper change. */
function redraw() {
  cursors.length = 0;
  if (part("time-line")) drawTimes(part("time-line"));
  drawStrips(part("strips"));
  drawWhere("thermodynamic", "air_temperature", drawThermodynamic);
  drawWhere("hodograph", "wind_speed", drawHodograph);
  for (const cursor of cursors) cursor.place();
}

function drawWhere(id, name, action) {
  part(id).closest("figure").hidden = !hasValues(name);
  if (hasValues(name)) action(part(id));
}

function choose(name, action) {
  for (const field of document.querySelectorAll(`input[name="${name}"]`)) {
    field.addEventListener("change", () => {
      if (field.checked) action(field.value);
    });
  }
}

function changeUnits() {
  redraw();
  fillTable();
  reading();
}

function begin() {
  legend(part("legend"));
  listenToReport();
  listenToTable();
  listenToCarriers();
  walkLevels(part("strips"));
  follow(() => {
    for (const cursor of cursors) cursor.place();
  });
  choose("wind", (value) => {
    view.wind = value;
    changeUnits();
  });
  choose("height", (value) => {
    view.height = value;
    changeUnits();
  });
  choose("ground", (value) => {
    document.documentElement.dataset.ground = value;
  });
  part("table-values").addEventListener("change", (event) => {
    view.values = event.target.value;
    fillTable();
  });
  part("table-kinds").addEventListener("change", (event) => showKinds(event.target.value));
  part("table-copy").addEventListener("click", copyTable);
  part("report-copy").addEventListener("click", () => {
    const parts = [...document.querySelectorAll(".coded")].map((box) => box.textContent.trimEnd());
    copyText(parts.join("\n") + "\n", "The report was copied.");
  });
  for (const button of document.querySelectorAll("button[data-level]")) {
    button.addEventListener("click", () => {
      markLevel(Number(button.dataset.level), true);
      part("views").scrollIntoView({ block: "start" });
    });
  }
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape") unmark();
  });
  reading();
  redraw();
  fillTable();
  let room = window.innerWidth;
  let waiting = null;
  window.addEventListener("resize", () => {
    if (window.innerWidth === room) return;
    room = window.innerWidth;
    window.clearTimeout(waiting);
    waiting = window.setTimeout(redraw, 120);
  });
  for (const [name, now] of [["beforeprint", true], ["afterprint", false]]) {
    window.addEventListener(name, () => {
      printing = now;
      redraw();
    });
  }
  document.documentElement.dataset.ready = "yes";
}

begin();
