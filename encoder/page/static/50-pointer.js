/* Pointing at a plot: the nearest level is marked, the nearest row of the flight is read out. */
function nearestLevel(pressure) {
  let best = null;
  let least = Infinity;
  LEVELS.forEach((level, index) => {
    if (!carriesData(level)) return;
    const off = Math.abs(Math.log(level.place / pressure));
    if (off < least) {
      least = off;
      best = index;
    }
  });
  return best;
}

function nearestRow(pressure) {
  const list = PROFILE.place;
  let low = 0;
  let high = list.length - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (list[middle] === null || list[middle] >= pressure) low = middle;
    else high = middle;
  }
  return Math.abs(list[low] - pressure) < Math.abs(list[high] - pressure) ? low : high;
}

function rowWords(row) {
  const line = PROFILE.lines[row];
  const words = [line === 0 ? "surface observation" : `line ${line}`];
  const pressure = PROFILE.air_pressure[row];
  if (pressure !== null) words.push(`${fixed(pressure, 2)} hPa`);
  for (const [name, word] of [
    ["geopotential_height", ""],
    ["air_temperature", "T "],
    ["dew_point_temperature", "Td "],
    ["relative_humidity", "U "],
  ]) {
    if (hasValues(name)) words.push(word + show(name, PROFILE[name][row], true));
  }
  const from = show("wind_from_direction", PROFILE.wind_from_direction[row], true);
  words.push(`wind ${from} ${show("wind_speed", PROFILE.wind_speed[row], true)}`);
  return words.join(" · ");
}

function listenToPressure(picture, y, height) {
  const at = (event) => {
    const box = picture.getBoundingClientRect();
    const scale = height / box.height;
    const inside = Math.min(height - FOOT_ROOM, Math.max(HEAD, (event.clientY - box.top) * scale));
    return y.pressure(inside);
  };
  picture.addEventListener("pointermove", (event) => {
    const pressure = at(event);
    if (PROFILE) part("readout").textContent = rowWords(nearestRow(pressure));
    if (!view.pinned && event.pointerType === "mouse") markLevel(nearestLevel(pressure), false);
  });
  picture.addEventListener("pointerleave", () => {
    if (!view.pinned) unmark();
  });
  picture.addEventListener("click", (event) => markLevel(nearestLevel(at(event)), true));
}

/* The plots as one thing to walk on with the keyboard, level by level. */
function walkLevels(host) {
  const known = LEVELS.map((level, index) => index).filter((i) => carriesData(LEVELS[i]));
  host.setAttribute("aria-valuemin", "1");
  host.setAttribute("aria-valuemax", String(Math.max(1, known.length)));
  const tell = () => {
    const place = known.indexOf(view.level);
    host.setAttribute("aria-valuenow", String(place < 0 ? 1 : place + 1));
    host.setAttribute("aria-valuetext", place < 0 ? "no level marked" : levelWords(view.level));
  };
  host.addEventListener("keydown", (event) => {
    const steps = { ArrowUp: 1, ArrowRight: 1, ArrowDown: -1, ArrowLeft: -1, PageUp: 5, PageDown: -5 };
    const place = known.indexOf(view.level);
    let next = null;
    if (event.key in steps) next = place < 0 ? 0 : place + steps[event.key];
    else if (event.key === "Home") next = 0;
    else if (event.key === "End") next = known.length - 1;
    if (next === null || !known.length) return;
    event.preventDefault();
    markLevel(known[Math.min(known.length - 1, Math.max(0, next))], true);
  });
  follow(tell);
  tell();
}
