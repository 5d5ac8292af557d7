const PAGE = JSON.parse(document.getElementById("data").textContent);
const LEVELS = PAGE.levels;
const GROUPS = PAGE.groups;
const PROFILE = PAGE.profile;
const KNOT = 1852 / 3600;
const FOOT = 0.3048;
const SVG = "http://www.w3.org/2000/svg";

/* What the reader has chosen; nothing of it changes what was sent. */
const view = {
  wind: PAGE.head.wind_unit === "kt" ? "kt" : "m/s",
  height: "m",
  values: "sent",
  level: null,
  group: null,
  pinned: false,
};

const followers = [];

function follow(action) {
  followers.push(action);
}

/* Mark a group, a level, or nothing; everything that shows it follows. */
function mark(level, group, pinned) {
  if (view.level === level && view.group === group && view.pinned === pinned) return;
  view.level = level;
  view.group = group;
  view.pinned = pinned;
  for (const action of followers) action();
}

function markGroup(group, pinned) {
  mark(GROUPS[group].level, group, pinned);
}

function markLevel(level, pinned) {
  mark(level, null, pinned);
}

function unmark() {
  mark(null, null, false);
}

/* Units: from those of the data to those chosen. */
const UNITS = {
  air_pressure: () => ({ factor: 1, word: "hPa", decimals: null }),
  geopotential_height: () =>
    view.height === "m"
      ? { factor: 1, word: "m", decimals: 0 }
      : { factor: 1 / FOOT, word: "ft", decimals: 0 },
  air_temperature: () => ({ factor: 1, word: "°C", decimals: 1 }),
  dew_point_temperature: () => ({ factor: 1, word: "°C", decimals: 1 }),
  dew_point_depression: () => ({ factor: 1, word: "K", decimals: 1 }),
  relative_humidity: () => ({ factor: 1, word: "%", decimals: 0 }),
  wind_from_direction: () => ({ factor: 1, word: "°", decimals: 0 }),
  wind_speed: () =>
    view.wind === "kt"
      ? { factor: 1 / KNOT, word: "kt", decimals: 0 }
      : { factor: 1, word: "m/s", decimals: 1 },
  time: () => ({ factor: 1, word: "s", decimals: 0 }),
};

/* Half goes away from zero, a half being recognised as in the report itself. */
function fixed(value, decimals) {
  const step = 10 ** decimals;
  const steps = Math.floor(Math.abs(value) * step + 0.5 + 1e-9);
  const sign = value < 0 && steps > 0 ? "\u2212" : "";
  return sign + (steps / step).toFixed(decimals);
}

function pressureText(value) {
  return value < 100 ? fixed(value, 1) : fixed(value, Number.isInteger(value) ? 0 : 1);
}

function show(name, value, withUnit) {
  if (value === null || value === undefined) return "–";
  if (name === "air_pressure") return pressureText(value) + (withUnit ? " hPa" : "");
  const unit = UNITS[name]();
  const text = fixed(value * unit.factor, unit.decimals);
  const gap = unit.word === "°" ? "" : " ";
  return withUnit ? text + gap + unit.word : text;
}

/* Elements of the page. */
function part(id) {
  return document.getElementById(id);
}

function make(tag, parent, text, name) {
  const element = document.createElement(tag);
  if (name) element.className = name;
  if (text !== undefined && text !== null) element.textContent = text;
  if (parent) parent.appendChild(element);
  return element;
}

function draw(tag, parent, attributes, text) {
  const element = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) {
    element.setAttribute(name, value);
  }
  if (text !== undefined) element.textContent = text;
  if (parent) parent.appendChild(element);
  return element;
}

function shown(number) {
  return Math.round(number * 10) / 10;
}
