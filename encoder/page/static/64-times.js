/* The time line: window, release, milestones and times due, numbered as in the list below it. */
function drawTimes(host) {
  host.replaceChildren();
  const times = PAGE.times;
  const width = Math.max(260, roomFor(host));
  const picture = draw("svg", host, {
    viewBox: `0 0 ${width} 64`,
    class: "plot",
    "aria-hidden": "true",
  });
  const minutes = times.moments.map((moment) => moment.minutes).concat(times.window, [0]);
  const first = Math.min(...minutes) - 8;
  const last = Math.max(...minutes) + 8;
  const x = straightScale(first, last, 12, width - 12);
  draw("line", picture, { x1: 12, x2: width - 12, y1: 34, y2: 34, class: "frame" });
  draw("rect", picture, {
    x: shown(x(times.window[0])),
    y: 29,
    width: shown(x(times.window[1]) - x(times.window[0])),
    height: 10,
    class: "window",
  });
  if (times.aim !== null) {
    const aim = shown(x(times.aim));
    draw("line", picture, { x1: aim, x2: aim, y1: 25, y2: 43, class: "aim" });
  }
  const most = width / 75;
  const step = [15, 30, 60, 120, 240].find((each) => (last - first) / each < most) || 480;
  for (let hour = Math.ceil(first / step) * step; hour <= last; hour += step) {
    const at = shown(x(hour));
    draw("line", picture, { x1: at, x2: at, y1: 39, y2: 44, class: "frame" });
    const words = hour === 0 ? "nominal" : (hour > 0 ? "+" : "\u2212") + plain(Math.abs(hour)) + " min";
    const room = words.length * 3.6;
    const middle = Math.min(width - room, Math.max(room, at));
    draw("text", picture, { x: shown(middle), y: 58, class: "axis small middle" }, words);
  }
  let before = -Infinity;
  let high = false;
  times.moments
    .map((moment, place) => [moment, place])
    .sort((one, other) => one[0].minutes - other[0].minutes)
    .forEach(([moment, place]) => {
      const at = x(moment.minutes);
      high = at - before < 20 && !high;
      before = at;
      const due = moment.name.startsWith("deadline");
      const group = draw("g", picture, { transform: `translate(${shown(at)} ${high ? 9 : 17})` });
      draw("line", group, { x1: 0, x2: 0, y1: 0, y2: high ? 25 : 17, class: "frame" });
      if (due) draw("rect", group, { x: -8, y: -8, width: 16, height: 16, class: "stone due" });
      else draw("circle", group, { r: 8, class: "stone" });
      draw("text", group, { y: 4, class: "stone-text" }, String(place + 1));
    });
}
