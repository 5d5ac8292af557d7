/* The hodograph: the ends of the wind vectors, all from one point, north up. */
function windEnd(direction, speed) {
  const turn = (direction * Math.PI) / 180;
  return [-speed * Math.sin(turn), -speed * Math.cos(turn)];
}

function levelWind(level) {
  const sent = level.sent;
  if (sent.wind_speed === null || sent.wind_from_direction === null) return null;
  return windEnd(sent.wind_from_direction, sent.wind_speed);
}

function flownWinds() {
  if (!PROFILE) return [];
  return PROFILE.wind_speed.map((speed, row) =>
    speed === null || PROFILE.wind_from_direction[row] === null
      ? null
      : windEnd(PROFILE.wind_from_direction[row], speed),
  );
}

function drawHodograph(host) {
  host.replaceChildren();
  const width = Math.max(280, roomFor(host));
  const picture = draw("svg", host, {
    class: "plot",
    "aria-hidden": "true",
  });
  const flown = flownWinds();
  const sent = LEVELS.map(levelWind);
  const unit = UNITS.wind_speed();
  const all = flown.concat(sent, [[0, 0]]).filter((wind) => wind !== null);
  const east = ends([all.map((w) => w[0])], 10);
  const north = ends([all.map((w) => w[1])], 10);
  const room = 40;
  const ratio = (north[1] - north[0]) / (east[1] - east[0]);
  const height = Math.round(Math.max(width * 0.6, Math.min(width * ratio, width, 720)));
  picture.setAttribute("viewBox", `0 0 ${width} ${height}`);
  const size = Math.min(
    (width - 2 * room) / (east[1] - east[0]),
    (height - 2 * room) / (north[1] - north[0]),
  );
  const middle = [(east[0] + east[1]) / 2, (north[0] + north[1]) / 2];
  const place = (wind) => [
    width / 2 + (wind[0] - middle[0]) * size,
    height / 2 - (wind[1] - middle[1]) * size,
  ];
  const named = namedWinds(place, sent);
  const beside = (at, words) => (at[0] + 12 + 7 * words.length > width ? "end" : "start");
  drawRings(picture, place, size, all, unit, width, height, named);
  draw("path", picture, {
    d: linePath(flown.map((wind) => (wind === null ? null : place(wind)))),
    class: "flown speed",
  });
  for (const chain of segments(["sfc", "w"], "wind_speed", "w")) {
    const points = chain.map((level) => levelWind(level)).filter((wind) => wind !== null);
    draw("path", picture, { d: linePath(points.map(place)), class: "sent speed" });
  }
  labelWinds(picture, place, sent, named, beside);
  const dot = draw("circle", picture, { r: 7, class: "dot speed", visibility: "hidden" });
  cursors.push({
    place() {
      const wind = view.level === null ? null : sent[view.level];
      dot.setAttribute("visibility", wind ? "visible" : "hidden");
      if (wind) moveDot(dot, place(wind));
    },
  });
  picture.addEventListener("pointermove", (event) => {
    if (view.pinned || event.pointerType !== "mouse") return;
    const seen = picture.getBoundingClientRect();
    const at = [
      ((event.clientX - seen.left) * width) / seen.width,
      ((event.clientY - seen.top) * height) / seen.height,
    ];
    let best = null;
    let least = 24 * 24;
    sent.forEach((wind, index) => {
      if (!wind) return;
      const point = place(wind);
      const off = (point[0] - at[0]) ** 2 + (point[1] - at[1]) ** 2;
      if (off < least) {
        least = off;
        best = index;
      }
    });
    if (best === null) unmark();
    else markLevel(best, false);
  });
  picture.addEventListener("pointerleave", () => {
    if (!view.pinned) unmark();
  });
}

function drawRings(picture, place, size, all, unit, width, height, named) {
  const origin = place([0, 0]);
  const fastest = all.reduce((most, wind) => Math.max(most, Math.hypot(wind[0], wind[1])), 1);
  const step = stepFor(fastest * unit.factor, 5);
  for (let speed = step; speed <= fastest * unit.factor + step; speed += step) {
    const radius = (speed / unit.factor) * size;
    draw("circle", picture, {
      cx: shown(origin[0]),
      cy: shown(origin[1]),
      r: shown(radius),
      class: "ring",
    });
    for (const side of [-1, 1]) {
      const x = origin[0] + side * radius;
      if (x < 12 || x > width - 12) continue;
      if (named.some(([, at]) => Math.abs(at[0] + 18 - x) < 28 && Math.abs(at[1] - origin[1] + 4) < 14)) continue;
      draw("text", picture, { x: shown(x), y: shown(origin[1]) - 4, class: "axis small middle" }, plain(speed));
    }
  }
  draw("line", picture, { x1: 0, x2: width, y1: shown(origin[1]), y2: shown(origin[1]), class: "grid" });
  draw("line", picture, { x1: shown(origin[0]), x2: shown(origin[0]), y1: 0, y2: height, class: "grid" });
  draw("circle", picture, { cx: shown(origin[0]), cy: shown(origin[1]), r: 2.5, class: "origin" });
  draw("text", picture, { x: 6, y: 14, class: "axis" }, `rings in ${unit.word}`);
}

/* The surface, standard levels and maxima there is room to name: index and place of each. */
function namedWinds(place, sent) {
  const found = [];
  LEVELS.forEach((level, index) => {
    if (!sent[index] || !["std", "max", "sfc"].some((word) => hasKind(level, word))) return;
    const at = place(sent[index]);
    const room = 14 + 7 * levelMark(index).length;
    const near = ([, other]) => Math.abs(other[0] - at[0]) < room && Math.abs(other[1] - at[1]) < 13;
    if (!found.some(near)) found.push([index, at]);
  });
  return found;
}

/* Shapes of the levels, and the pressures of those named. */
function labelWinds(picture, place, sent, named, beside) {
  LEVELS.forEach((level, index) => {
    const wind = sent[index];
    if (!wind) return;
    const kind = ["max", "sfc", "w", "std"].find((word) => hasKind(level, word));
    const at = place(wind);
    if (kind) drawKind(picture, KINDS.find((item) => item.mark === kind), at[0], at[1], "on-curve speed");
  });
  for (const [index, at] of named) {
    const words = levelMark(index);
    const side = beside(at, words);
    const x = shown(at[0] + (side === "end" ? -8 : 8));
    draw("text", picture, { x, y: shown(at[1] + 4), class: `axis halo ${side}` }, words);
  }
}
