/* Kinds of levels: a shape and letters each, so that no colour has to be told apart. */
const KINDS = [
  { mark: "sfc", word: "surface", solid: true, path: "M-5 0H5V4H-5Z" },
  { mark: "std", word: "standard", solid: false, path: "M4 0A4 4 0 1 1 -4 0A4 4 0 1 1 4 0Z" },
  { mark: "T", word: "significant temperature", solid: true, path: "M-4 -4.2L4.4 0L-4 4.2Z" },
  { mark: "U", word: "significant humidity", solid: true, path: "M0 -5L3.6 0L0 5L-3.6 0Z" },
  { mark: "w", word: "significant wind", solid: false, path: "M-3.4 -4.4L3 0L-3.4 4.4" },
  { mark: "trop", word: "tropopause", solid: false, path: "M-5 -4H5M0 -4V5" },
  {
    mark: "max",
    word: "maximum wind",
    solid: true,
    path: "M0 -5.4L1.4 -1.4L5.4 0L1.4 1.4L0 5.4L-1.4 1.4L-5.4 0L-1.4 -1.4Z",
  },
  { mark: "top", word: "top of wind sounding", solid: false, path: "M0 5V-5M-4 -1L0 -5L4 -1" },
  {
    mark: "0C",
    word: "zero crossing",
    solid: false,
    path: "M4 0A4 4 0 1 1 -4 0A4 4 0 1 1 4 0ZM-6.5 0H6.5",
  },
  { mark: "reg", word: "regional", solid: false, path: "M-3.6 -3.6H3.6V3.6H-3.6Z" },
  { mark: "gap", word: "edge of a layer without data", solid: false, path: "M-3 -4H3V4H-3" },
];

function isGap(name) {
  return name.includes("(") || name.includes(")");
}

function hasKind(level, name) {
  return name === "gap" ? level.marks.some(isGap) : level.marks.includes(name);
}

function kindsUsed() {
  return KINDS.filter((kind) => LEVELS.some((level) => hasKind(level, kind.mark)));
}

function drawKind(parent, kind, x, y, name) {
  const style = (kind.solid ? "kind solid " : "kind open ") + (name || "");
  return draw("path", parent, {
    d: kind.path,
    transform: `translate(${shown(x)} ${shown(y)})`,
    class: style,
  });
}

function legend(host) {
  const list = make("ul", host, null, "legend");
  for (const kind of kindsUsed()) {
    const item = make("li", list);
    const picture = draw("svg", item, {
      viewBox: "-8 -8 16 16",
      width: 16,
      height: 16,
      "aria-hidden": "true",
    });
    drawKind(picture, kind, 0, 0);
    make("b", item, kind.mark);
    item.append(" " + kind.word);
  }
}

function drawBarb(parent, barb, x, y, name) {
  const group = draw("g", parent, {
    transform: `translate(${shown(x)} ${shown(y)})`,
    class: "barb " + (name || ""),
  });
  if (barb.calm) draw("circle", group, { r: 3, class: "barb-line" });
  if (barb.lines) draw("path", group, { d: barb.lines, class: "barb-line" });
  if (barb.shapes) draw("path", group, { d: barb.shapes, class: "barb-fill" });
  return group;
}

/* A word for a level that people say aloud. */
function levelName(index) {
  const sent = LEVELS[index].sent;
  if (sent.air_pressure !== null) return `${pressureText(sent.air_pressure)} hPa`;
  if (sent.geopotential_height !== null) {
    return show("geopotential_height", sent.geopotential_height, true);
  }
  return LEVELS[index].kinds.join(", ");
}

/* The same in little room; a level given by height alone shows its height. */
function levelMark(index) {
  const sent = LEVELS[index].sent;
  if (sent.air_pressure !== null) return plain(sent.air_pressure);
  return show("geopotential_height", sent.geopotential_height, false);
}

function levelWords(index) {
  const sent = LEVELS[index].sent;
  const words = [levelName(index), LEVELS[index].kinds.join(", ")];
  if (sent.air_temperature !== null) words.push(show("air_temperature", sent.air_temperature, true));
  if (sent.wind_speed !== null && sent.wind_from_direction !== null) {
    const from = show("wind_from_direction", sent.wind_from_direction, true);
    words.push(`wind ${from} ${show("wind_speed", sent.wind_speed, true)}`);
  }
  return words.join("; ");
}
