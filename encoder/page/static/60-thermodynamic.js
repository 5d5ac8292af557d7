/* The thermodynamic view: temperature on an axis that leans, with the lines air moves along. */
const LEAN = 37;
const THERMO_TOP = 100;

function drawThermodynamic(host) {
  host.replaceChildren();
  const width = Math.max(280, roomFor(host));
  const height = Math.round(Math.min(width * 1.05, 720));
  const box = { left: 42, right: width - 40, top: 24, bottom: height - 26 };
  const picture = draw("svg", host, {
    viewBox: `0 0 ${width} ${height}`,
    class: "plot",
    "aria-hidden": "true",
  });
  const bottom = Math.max(1050, pressureRange()[0]);
  const y = pressureScale(bottom, THERMO_TOP, box.bottom, box.top);
  const [coldest, warmest] = warmth();
  const across = straightScale(coldest, warmest, box.left, box.right);
  const place = (temperature, pressure) => [
    across(temperature + LEAN * Math.log(1000 / pressure)),
    y(pressure),
  ];
  const clip = draw("clipPath", draw("defs", picture, {}), { id: "thermo-clip" });
  const frame = {
    x: box.left,
    y: box.top,
    width: box.right - box.left,
    height: box.bottom - box.top,
  };
  draw("rect", clip, frame);
  const inside = draw("g", picture, { "clip-path": "url(#thermo-clip)" });
  drawLines(inside, place, bottom, box);
  drawThermoAxes(picture, inside, place, y, box, bottom);
  drawAir(inside, place);
  drawThermoBarbs(picture, y, width - 16, bottom);
  draw("rect", picture, { ...frame, class: "box" });
  const dots = draw("g", inside, { visibility: "hidden" });
  const line = draw("line", dots, { x1: box.left, x2: box.right, class: "cursor-line" });
  const warm = draw("circle", dots, { r: 5, class: "dot temperature" });
  const dew = draw("circle", dots, { r: 5, class: "dot moisture" });
  cursors.push({
    place() {
      const level = view.level === null ? null : LEVELS[view.level];
      const sent = level && level.sent;
      const seen = level && sent.air_temperature !== null && level.place >= THERMO_TOP;
      dots.setAttribute("visibility", seen ? "visible" : "hidden");
      if (!seen) return;
      const at = shown(y(level.place));
      line.setAttribute("y1", at);
      line.setAttribute("y2", at);
      moveDot(warm, place(sent.air_temperature, level.place));
      dew.setAttribute("visibility", sent.dew_point_temperature === null ? "hidden" : "inherit");
      if (sent.dew_point_temperature !== null) {
        moveDot(dew, place(sent.dew_point_temperature, level.place));
      }
    },
  });
  picture.addEventListener("pointermove", (event) => {
    if (view.pinned || event.pointerType !== "mouse") return;
    const seen = picture.getBoundingClientRect();
    const at = ((event.clientY - seen.top) * height) / seen.height;
    markLevel(nearestLevel(y.pressure(Math.min(box.bottom, Math.max(box.top, at)))), false);
  });
  picture.addEventListener("pointerleave", () => {
    if (!view.pinned) unmark();
  });
}

function moveDot(dot, point) {
  dot.setAttribute("cx", shown(point[0]));
  dot.setAttribute("cy", shown(point[1]));
}

/* The span of temperatures at the 1000 hPa end that lets the whole sounding lie inside. */
function warmth() {
  let low = -20;
  let high = 20;
  for (const level of LEVELS) {
    const sent = level.sent;
    if (sent.air_temperature === null || level.place < THERMO_TOP) continue;
    const moved = LEAN * Math.log(1000 / level.place);
    high = Math.max(high, sent.air_temperature + moved + 6);
    if (level.place > 300 && sent.dew_point_temperature !== null) {
      low = Math.min(low, Math.max(sent.dew_point_temperature, -60) + moved - 6);
    }
    low = Math.min(low, sent.air_temperature + moved - 8);
  }
  return [low, high];
}

function drawLines(inside, place, bottom, box) {
  for (const [name, style] of [
    ["dry", "dry"],
    ["moist", "moist"],
    ["mixing", "mixing"],
  ]) {
    for (const line of PAGE.lines[name]) {
      const points = line.points.filter((p) => p[0] <= bottom).map((p) => place(p[1], p[0]));
      draw("path", inside, { d: linePath(points), class: "thermo-line " + style });
      const seen = points.filter((p) => p[0] > box.left + 8 && p[0] < box.right - 10);
      if (name === "mixing" && seen.length) {
        const last = seen[seen.length - 1];
        draw("text", inside, { x: shown(last[0]), y: shown(last[1]) - 3, class: "axis small middle" }, plain(line.value));
      }
    }
  }
}

function drawThermoAxes(picture, inside, place, y, box, bottom) {
  for (const pressure of PRESSURE_TICKS) {
    if (pressure < THERMO_TOP || pressure > bottom) continue;
    const at = shown(y(pressure));
    draw("line", inside, { x1: box.left, x2: box.right, y1: at, y2: at, class: "grid" });
    draw("text", picture, { x: box.left - 5, y: at + 4, class: "axis end" }, String(pressure));
  }
  for (let temperature = -120; temperature <= 60; temperature += 10) {
    const low = place(temperature, bottom);
    const high = place(temperature, THERMO_TOP);
    draw("path", inside, {
      d: linePath([low, high]),
      class: temperature === 0 ? "thermo-line zero" : "thermo-line isotherm",
    });
    if (low[0] >= box.left + 6 && low[0] < box.right - 24) {
      draw("text", picture, { x: shown(low[0]), y: box.bottom + 16, class: "axis middle" }, plain(temperature));
    }
    if (high[0] > box.left + 10 && high[0] < box.right - 6) {
      draw("text", picture, { x: shown(high[0]), y: box.top - 6, class: "axis middle" }, plain(temperature));
    }
  }
  draw("text", picture, { x: box.right, y: box.bottom + 16, class: "axis end" }, "°C");
}

function drawAir(inside, place) {
  for (const [name, style, gap] of [
    ["dew_point_temperature", "moisture", "U"],
    ["air_temperature", "temperature", "T"],
  ]) {
    if (PROFILE) {
      const points = PROFILE.place.map((pressure, row) =>
        pressure === null || PROFILE[name][row] === null || pressure < THERMO_TOP * 0.97
          ? null
          : place(PROFILE[name][row], pressure),
      );
      draw("path", inside, { d: linePath(points), class: "flown " + style });
    }
    for (const chain of segments(["sfc", "T", "U"], name, gap)) {
      const points = chain.map((level) => place(level.sent[name], level.place));
      draw("path", inside, { d: linePath(points), class: "sent " + style });
    }
    for (const level of LEVELS) {
      if (level.sent[name] === null || level.place === null || level.place < THERMO_TOP) continue;
      const kind = ["trop", "T", "U", "std", "sfc"].find((word) => hasKind(level, word));
      if (!kind) continue;
      const at = place(level.sent[name], level.place);
      drawKind(inside, KINDS.find((item) => item.mark === kind), at[0], at[1], "on-curve " + style);
    }
  }
}

function drawThermoBarbs(picture, y, x, bottom) {
  let last = Infinity;
  for (const level of LEVELS) {
    const pressure = level.place;
    if (!level.barb || pressure === null || pressure < THERMO_TOP || pressure > bottom) continue;
    const at = y(pressure);
    if (last - at < 20) continue;
    last = at;
    drawBarb(picture, level.barb, x, at, "small");
  }
}
