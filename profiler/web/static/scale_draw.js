// Draws a placed scene: clip, aim, grey and floor at the left, the spots at the right.
import { canvas, make, spread, ticks } from "/static/svg.js";

const GAP = 21;

export function drawScale(place, shown) {
  if (!shown) {
    place.replaceChildren();
    return;
  }
  const { svg, width, height } = canvas(place, shown.title);
  const top = 14;
  const bottom = height - 14;
  const y = (at) => top + ((shown.high - at) / (shown.high - shown.low)) * (bottom - top);
  const narrow = width < 480;
  const axis = narrow ? 38 : 42;
  const column = { left: narrow ? 160 : Math.round(width * 0.42), wide: narrow ? 18 : 40 };
  const right = column.left + column.wide;

  const band = (from, to, kind) => {
    const [a, b] = [y(Math.min(to, shown.high)), y(Math.max(from, shown.low))];
    if (b > a) svg.append(make("rect", { x: column.left, y: a, width: column.wide, height: b - a, class: kind }));
  };
  band(0, shown.high, "lost");
  band(shown.floor10 ?? shown.low, 0, "held");
  if (shown.floor10 !== null) band(shown.low, shown.floor10, "dark");
  if (shown.linear !== null) band(shown.linear, 0, "bent");
  svg.append(make("rect", { x: column.left, y: top, width: column.wide, height: bottom - top, class: "frame" }));

  const { values } = ticks(shown.low, shown.high, Math.floor((bottom - top) / 26));
  for (const at of values) {
    const words = at > 0 ? `+${at}` : `${at}`.replace("-", "−");
    svg.append(make("text", { x: axis - 8, y: y(at), class: "tick" }, words));
    svg.append(make("line", { x1: axis - 5, x2: axis, y1: y(at), y2: y(at), class: "thin" }));
  }
  svg.append(make("line", { x1: axis, x2: axis, y1: top, y2: bottom, class: "thin" }));

  const low = top + GAP / 2;
  const high = bottom - GAP / 2;
  const marks = spread(shown.marks.map((mark) => y(mark.at)), GAP, low, high);
  shown.marks.forEach((mark, i) => {
    const edge = column.left - (narrow ? 14 : 26);
    const points = `${edge + 3},${marks[i]} ${column.left - (narrow ? 4 : 8)},${y(mark.at)} ${column.left},${y(mark.at)}`;
    svg.append(make("polyline", { points, class: "thin" }));
    svg.append(make("line", { x1: column.left, x2: right, y1: y(mark.at), y2: y(mark.at), class: mark.strong ? "clip" : "mark" }));
    svg.append(make("text", { x: edge, y: marks[i], class: mark.strong ? "name strong" : "name" }, mark.text));
  });

  const lines = narrow ? 3 : 2;
  const room = lines * 9 + 2;
  const at = shown.spots.map((spot) => y(spot.at));
  const spots = spread(at, room * 2, top + room, bottom - room);
  shown.spots.forEach((spot, i) => spotAt(svg, shown, spot, y, right, spots[i], i, width, narrow));
}

function spotAt(svg, shown, spot, y, right, label, i, width, narrow) {
  const x = right + (narrow ? 12 + 9 * (i % 2) : 16 + 13 * (i % 3));
  const text = right + (narrow ? 44 : 72);
  const points = `${x},${y(spot.at)} ${text - (narrow ? 12 : 20)},${y(spot.at)} ${text - 4},${label}`;
  svg.append(make("polyline", { points, class: "thin" }));
  const ends = [y(Math.min(spot.high, shown.high)), y(Math.max(spot.low, shown.low))];
  svg.append(make("line", { x1: x, x2: x, y1: ends[0], y2: ends[1], class: "interval" }));
  svg.append(marker(x, y(spot.at), spot.kind));
  const room = Math.max(6, Math.floor((width - text) / 9.2));
  const name = spot.name.length > room ? `${spot.name.slice(0, room - 1)}…` : spot.name;
  const parts = [spot.height.replace("-", "−"), spot.verdict].filter(Boolean);
  const words = narrow ? parts : [parts.join(" ")];
  const first = label - 9 * words.length;
  svg.append(make("text", { x: text, y: first, class: "spot" }, name));
  words.forEach((line, k) => {
    svg.append(make("text", { x: text, y: first + 18 * (k + 1), class: "spot verdict" }, line));
  });
}

function marker(x, y, kind) {
  const shapes = {
    safe: `M${x - 6},${y} a6,6 0 1,0 12,0 a6,6 0 1,0 -12,0`,
    "in doubt": `M${x},${y - 8} l8,8 l-8,8 l-8,-8 z`,
    clipped: `M${x},${y - 8} l8,14 h-16 z`,
    below: `M${x},${y + 8} l8,-14 h-16 z`,
  };
  return make("path", { d: shapes[kind], class: `spot-mark ${kind.replace(" ", "-")}` });
}
