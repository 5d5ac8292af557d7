/* Room of each drawing on A4 paper with the margins of the style sheet, in CSS pixels. */
const PAPER = { strips: 700, "time-line": 700, thermodynamic: 342, hodograph: 342 };
let printing = false;

function roomFor(host) {
  return printing ? PAPER[host.id] : host.clientWidth;
}

/* Scales: pressure by its logarithm, everything else straight. */
function pressureScale(bottom, top, low, high) {
  const from = Math.log(bottom);
  const span = Math.log(top) - from;
  const place = (pressure) => low + ((Math.log(pressure) - from) / span) * (high - low);
  place.pressure = (y) => Math.exp(from + ((y - low) / (high - low)) * span);
  return place;
}

function straightScale(first, last, low, high) {
  return (value) => low + ((value - first) / (last - first)) * (high - low);
}

const PRESSURE_TICKS = [1000, 850, 700, 500, 400, 300, 250, 200, 150, 100, 70, 50, 30, 20, 10, 5];

/* Everything that has a pressure, so that nothing falls off the plot. */
function pressureRange() {
  const flown = PROFILE ? PROFILE.place.filter((value) => value !== null) : [];
  const sent = LEVELS.filter((level) => carriesData(level)).map((l) => l.place);
  const all = flown.concat(sent);
  if (!all.length) return [1050, 100];
  const bottom = all.reduce((a, b) => Math.max(a, b));
  const top = all.reduce((a, b) => Math.min(a, b));
  return [bottom * 1.03, Math.min(top * 0.94, bottom * 0.8)];
}

/* A level below the ground carries a height and nothing else; one without a place has none. */
function carriesData(level) {
  const sent = level.sent;
  if (level.place === null) return false;
  return sent.air_temperature !== null || sent.wind_speed !== null;
}

/* Whether a quantity has a value anywhere; what nobody observed is not drawn. */
function hasValues(name) {
  return (
    LEVELS.some((level) => level.sent[name] !== null) ||
    (PROFILE !== null && PROFILE[name].some((value) => value !== null))
  );
}

function ends(lists, least) {
  let low = Infinity;
  let high = -Infinity;
  for (const list of lists) {
    for (const value of list) {
      if (value === null || value === undefined) continue;
      if (value < low) low = value;
      if (value > high) high = value;
    }
  }
  if (low > high) return [0, least];
  if (high - low < least) high = low + least;
  return [low, high];
}

/* Round steps: 1, 2 or 5 times a power of ten. */
function stepFor(span, most) {
  const rough = span / most;
  const power = 10 ** Math.floor(Math.log10(rough));
  for (const times of [1, 2, 5, 10]) {
    if (times * power >= rough) return times * power;
  }
  return 10 * power;
}

function ticks(first, last, most) {
  const step = stepFor(last - first, most);
  const found = [];
  for (let value = Math.ceil(first / step) * step; value <= last + 1e-9; value += step) {
    found.push(Math.abs(value) < step / 1e6 ? 0 : value);
  }
  return found;
}

function plain(value) {
  return String(Math.round(value * 1000) / 1000).replace("-", "\u2212");
}

/* A line through points; a null breaks it. */
function linePath(points) {
  let path = "";
  let pen = false;
  for (const point of points) {
    if (point === null) {
      pen = false;
      continue;
    }
    path += (pen ? "L" : "M") + shown(point[0]) + " " + shown(point[1]);
    pen = true;
  }
  return path;
}

/* A band between two edges; a null breaks it. */
function bandPath(points) {
  let path = "";
  let run = [];
  const close = () => {
    if (run.length > 1) {
      const there = run.map((p) => `${shown(p[0])} ${shown(p[2])}`);
      const back = run.map((p) => `${shown(p[1])} ${shown(p[2])}`).reverse();
      path += "M" + there.concat(back).join("L") + "Z";
    }
    run = [];
  };
  for (const point of points) {
    if (point === null) close();
    else run.push(point);
  }
  close();
  return path;
}

function shortestTurn(from, to) {
  return ((((to - from) % 360) + 540) % 360) - 180;
}

/* Segments a reader draws between levels of some kinds: lists of levels, broken at gaps. */
function segments(marks, name, gap) {
  const chains = [];
  let chain = [];
  for (const level of LEVELS) {
    if (!marks.some((kind) => level.marks.includes(kind))) continue;
    if (level.sent[name] === null || level.place === null) {
      if (chain.length) chains.push(chain);
      chain = [];
      continue;
    }
    chain.push(level);
    if (level.marks.includes(gap + "(")) {
      chains.push(chain);
      chain = [];
    }
  }
  if (chain.length) chains.push(chain);
  return chains;
}
