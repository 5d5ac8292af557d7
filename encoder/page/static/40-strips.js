/* Strips: the quantities side by side against one pressure axis, each with its misfit. */
const STRIPS = [
  {
    title: "Temperature",
    element: "air_temperature",
    curves: [
      { name: "air_temperature", word: "T", style: "temperature", marks: ["sfc", "T", "U"], gap: "T" },
      {
        name: "dew_point_temperature",
        word: "Td",
        style: "moisture",
        marks: ["sfc", "T", "U"],
        gap: "U",
      },
    ],
    shapes: ["sfc", "std", "T", "trop", "0C"],
    least: 20,
  },
  {
    title: "Relative humidity",
    element: "relative_humidity",
    curves: [
      { name: "relative_humidity", word: "U", style: "moisture", marks: ["sfc", "T", "U"], gap: "U" },
    ],
    shapes: ["sfc", "std", "U"],
    range: () => [0, 100],
  },
  {
    title: "Wind speed",
    element: "wind_speed",
    curves: [{ name: "wind_speed", word: "ff", style: "speed", marks: ["sfc", "w"], gap: "w" }],
    shapes: ["sfc", "std", "w", "max", "top"],
    least: 10,
    zero: true,
  },
  {
    title: "Wind direction",
    element: "wind_from_direction",
    curves: [
      { name: "wind_from_direction", word: "dd", style: "direction", marks: ["sfc", "w"], gap: "w" },
    ],
    shapes: ["sfc", "std", "w", "max", "top"],
    range: () => [0, 360],
    turning: true,
  },
];

const LANE = 15;
const MISFIT = 40;
const AXIS = 40;
const HEAD = 62;
const FOOT_ROOM = 30;

const cursors = [];

function drawStrips(host) {
  host.replaceChildren();
  const width = Math.max(280, roomFor(host));
  const barbs = LEVELS.some((level) => level.barb) ? 52 : 0;
  const lanes = kindsUsed();
  const fits = Math.floor((width - AXIS - barbs) / 190);
  const wanted = STRIPS.filter((strip) => strip.curves.some((curve) => hasValues(curve.name)));
  const most = Math.max(1, wanted.length);
  const perRow = Math.min(most, fits >= 4 ? 4 : fits >= 2 ? 2 : 1);
  const narrow = fits < 2;
  const room = fits < 2 ? 380 : most > perRow ? 330 : Math.min(760, Math.max(560, width * 0.55));
  const height = HEAD + FOOT_ROOM + room;
  for (let first = 0; first < wanted.length; first += perRow) {
    const strips = wanted.slice(first, first + perRow);
    const ladder = first === 0 && !narrow ? lanes : [];
    const windy = strips.some((strip) => strip.element === "wind_speed") ? barbs : 0;
    drawRow(host, strips, ladder, windy, width, height);
  }
}

function drawRow(host, strips, lanes, barbs, width, height) {
  const [bottom, top] = pressureRange();
  const y = pressureScale(bottom, top, height - FOOT_ROOM, HEAD);
  const picture = draw("svg", host, {
    viewBox: `0 0 ${width} ${height}`,
    class: "plot strips",
    "aria-hidden": "true",
  });
  const ladderWidth = lanes.length * LANE + (lanes.length ? 18 : 0);
  const room = (width - AXIS - ladderWidth - barbs) / strips.length;
  drawPressureAxis(picture, y, bottom, top, AXIS, width, height);
  drawLadder(picture, lanes, y, height);
  strips.forEach((strip, place) => {
    drawStrip(picture, strip, AXIS + ladderWidth + place * room, room - 12, y, height, [bottom, top]);
  });
  if (barbs) drawBarbLane(picture, width - barbs / 2, y);
  const cursor = draw("g", picture, { class: "cursor", visibility: "hidden" });
  draw("line", cursor, { x1: AXIS, x2: width, y1: 0, y2: 0, class: "cursor-line" });
  draw("rect", cursor, { x: 0, y: -9, width: AXIS - 3, height: 18, rx: 3, class: "cursor-tag" });
  const label = draw("text", cursor, { x: AXIS - 7, y: 4, class: "cursor-text" });
  cursors.push({
    place() {
      const level = view.level;
      const inside = level !== null && LEVELS[level].place !== null && LEVELS[level].place <= bottom;
      cursor.setAttribute("visibility", inside ? "visible" : "hidden");
      if (!inside) return;
      cursor.setAttribute("transform", `translate(0 ${shown(y(LEVELS[level].place))})`);
      label.textContent = levelMark(level);
    },
  });
  listenToPressure(picture, y, height);
}

function drawPressureAxis(picture, y, bottom, top, left, right, height) {
  draw("text", picture, { x: left - 7, y: HEAD - 10, class: "axis end" }, "hPa");
  let last = Infinity;
  for (const pressure of PRESSURE_TICKS) {
    if (pressure > bottom || pressure < top) continue;
    const at = shown(y(pressure));
    draw("line", picture, { x1: left, x2: right, y1: at, y2: at, class: "grid" });
    if (last - at < 13) continue;
    last = at;
    draw("text", picture, { x: left - 7, y: at + 4, class: "axis end" }, String(pressure));
  }
  draw("line", picture, { x1: left, x2: left, y1: HEAD, y2: height - FOOT_ROOM, class: "frame" });
}

function drawLadder(picture, lanes, y, height) {
  lanes.forEach((kind, place) => {
    const x = AXIS + 10 + place * LANE;
    draw("line", picture, { x1: x, x2: x, y1: HEAD, y2: height - FOOT_ROOM, class: "lane" });
    draw(
      "text",
      picture,
      { transform: `translate(${x + 4} ${HEAD - 8}) rotate(-60)`, class: "axis" },
      kind.mark,
    );
    for (const level of LEVELS) {
      if (!hasKind(level, kind.mark) || !carriesData(level)) continue;
      drawKind(picture, kind, x, y(level.place));
    }
  });
}

function drawBarbLane(picture, x, y) {
  draw("text", picture, { x, y: HEAD - 30, class: "axis middle" }, "wind");
  let last = Infinity;
  for (const level of LEVELS) {
    if (!level.barb || level.place === null) continue;
    const at = y(level.place);
    if (last - at < 15 && !level.marks.includes("max")) continue;
    last = at;
    drawBarb(picture, level.barb, x, at);
  }
}

function drawStrip(picture, strip, left, width, y, height, pressures) {
  const misfit = PAGE.fit ? MISFIT : 0;
  const right = left + width - misfit - (misfit ? 8 : 0);
  const lists = strip.curves.flatMap((curve) => [
    PROFILE ? PROFILE[curve.name] : [],
    LEVELS.map((level) => level.sent[curve.name]),
  ]);
  const unit = UNITS[strip.element]();
  let [low, high] = strip.range ? strip.range() : ends(lists, strip.least);
  if (strip.zero) low = 0;
  const step = strip.turning ? 90 : stepFor((high - low) * unit.factor, Math.max(2, (right - left) / 34));
  if (!strip.range) {
    low = (Math.floor((low * unit.factor) / step) * step) / unit.factor;
    high = (Math.ceil((high * unit.factor + step * 0.05) / step) * step) / unit.factor;
  }
  const x = straightScale(low, high, left + 4, right - 4);
  drawStripHead(picture, strip, left, unit);
  for (let value = low * unit.factor; value <= high * unit.factor + 1e-6; value += step) {
    const at = shown(x(value / unit.factor));
    draw("line", picture, { x1: at, x2: at, y1: HEAD, y2: height - FOOT_ROOM, class: "grid" });
    draw("text", picture, { x: at, y: height - FOOT_ROOM + 15, class: "axis middle" }, plain(value));
  }
  draw("rect", picture, {
    x: left,
    y: HEAD,
    width: right - left,
    height: height - FOOT_ROOM - HEAD,
    class: "box",
  });
  if (PAGE.fit) drawBand(picture, strip, x, y, [low, high]);
  for (const curve of strip.curves) drawFlown(picture, strip, curve, x, y);
  for (const curve of strip.curves) drawSent(picture, strip, curve, x, y);
  drawShapes(picture, strip, x, y);
  if (misfit) drawMisfit(picture, strip, right + 8, misfit - 4, y, height, pressures);
}

function drawStripHead(picture, strip, left, unit) {
  draw("text", picture, { x: left, y: 15, class: "strip-title" }, strip.title);
  const words = draw("text", picture, { x: left, y: 33, class: "axis" });
  strip.curves.forEach((curve, place) => {
    if (place) draw("tspan", words, {}, "  ");
    draw("tspan", words, { class: "word " + curve.style }, curve.word);
  });
  draw("tspan", words, {}, `  ${unit.word}`);
}

function drawBand(picture, strip, x, y, [low, high]) {
  const fit = PAGE.fit[strip.element];
  const style = "band " + strip.curves[0].style;
  const points = PROFILE.place.map((pressure, row) => {
    const value = fit.rebuilt[row];
    const limit = fit.limit[row];
    if (value === null || limit === null || pressure === null) return null;
    return [x(Math.max(low, value - limit)), x(Math.min(high, value + limit)), y(pressure)];
  });
  draw("path", picture, { d: bandPath(strip.turning ? brokenBand(points) : points), class: style });
}

/* Where a direction passes north its band is broken rather than drawn across the plot. */
function brokenBand(points) {
  const found = [];
  let last = null;
  for (const point of points) {
    if (point && last && Math.abs(point[0] - last[0]) + Math.abs(point[1] - last[1]) > 60) {
      found.push(null);
    }
    found.push(point);
    last = point;
  }
  return found;
}

function drawFlown(picture, strip, curve, x, y) {
  if (!PROFILE) return;
  const values = PROFILE[curve.name];
  const points = [];
  let before = null;
  PROFILE.place.forEach((pressure, row) => {
    const value = values[row];
    if (value === null || pressure === null) {
      points.push(null);
      before = null;
      return;
    }
    if (strip.turning && before !== null && Math.abs(value - before) > 180) points.push(null);
    points.push([x(value), y(pressure)]);
    before = value;
  });
  draw("path", picture, { d: linePath(points), class: "flown " + curve.style });
}

function drawSent(picture, strip, curve, x, y) {
  const points = [];
  for (const chain of segments(curve.marks, curve.name, curve.gap)) {
    points.push(null);
    chain.forEach((level, place) => {
      const value = level.sent[curve.name];
      const at = y(level.place);
      if (strip.turning && place) pushTurn(points, chain[place - 1], level, curve, x, y);
      points.push([x(value), at]);
    });
  }
  draw("path", picture, { d: linePath(points), class: "sent " + curve.style });
}

/* A direction that passes north leaves on one side and comes back on the other. */
function pushTurn(points, below, above, curve, x, y) {
  const from = below.sent[curve.name];
  const turn = shortestTurn(from, above.sent[curve.name]);
  const reached = from + turn;
  if (reached >= 0 && reached <= 360) return;
  const edge = reached > 360 ? 360 : 0;
  const share = (edge - from) / turn;
  const start = y(below.place);
  const at = start + share * (y(above.place) - start);
  points.push([x(edge), at], null, [x(360 - edge), at]);
}

function drawShapes(picture, strip, x, y) {
  for (const curve of strip.curves) {
    for (const level of LEVELS) {
      const value = level.sent[curve.name];
      if (value === null || level.place === null) continue;
      const kind = [...strip.shapes].reverse().find((name) => hasKind(level, name));
      if (!kind) continue;
      const shape = KINDS.find((item) => item.mark === kind);
      drawKind(picture, shape, x(value), y(level.place), "on-curve " + curve.style);
    }
  }
}

/* Misfit as a share of its limit, the greatest of the rows in each half pixel. */
function drawMisfit(picture, strip, left, width, y, height, pressures) {
  const fit = PAGE.fit[strip.element];
  const scale = straightScale(0, 1.25, left, left + width);
  draw("rect", picture, {
    x: left,
    y: HEAD,
    width,
    height: height - FOOT_ROOM - HEAD,
    class: "box",
  });
  const worst = new Map();
  PROFILE.place.forEach((pressure, row) => {
    if (fit.misfit[row] === null || fit.limit[row] === null || pressure === null) return;
    const at = Math.round(y(pressure) * 2) / 2;
    worst.set(at, Math.max(worst.get(at) || 0, fit.misfit[row] / fit.limit[row]));
  });
  let kept = "";
  let broken = "";
  for (const [at, share] of worst) {
    const line = `M${left} ${at}H${shown(scale(Math.min(share, 1.25)))}`;
    if (share > 1 + 1e-6) broken += line;
    else kept += line;
  }
  draw("path", picture, { d: kept, class: "misfit " + strip.curves[0].style });
  draw("path", picture, { d: broken, class: "misfit broken" });
  const limit = shown(scale(1));
  draw("line", picture, { x1: limit, x2: limit, y1: HEAD, y2: height - FOOT_ROOM, class: "limit" });
  draw("text", picture, { x: left, y: HEAD - 22, class: "axis small" }, "misfit");
  draw("text", picture, { x: left, y: HEAD - 10, class: "axis small" }, "of limit");
  draw("text", picture, { x: limit, y: height - FOOT_ROOM + 15, class: "axis small middle" }, "1");
}
