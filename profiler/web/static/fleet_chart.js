// Charts of a fleet: values with intervals around zero; one body over time.
import { canvas, make, signed, ticks } from "/static/svg.js";

const ROW = 26;
const dot = (x, y) => `M${x - 5},${y} a5,5 0 1,0 10,0 a5,5 0 1,0 -10,0`;
const square = (x, y) => `M${x - 5},${y - 5} h10 v10 h-10 z`;

function marked(svg, x, y, odd) {
  svg.append(make("path", { d: odd ? square(x, y) : dot(x, y), class: odd ? "dot odd" : "dot" }));
}

function line(svg, x1, y1, x2, y2, kind) {
  svg.append(make("line", { x1, y1, x2, y2, class: kind }));
}

function numbers(low, high, most) {
  const { step, values } = ticks(low, high, most);
  const places = step < 0.1 ? 2 : step < 1 ? 1 : 0;
  return values.map((at) => [at, Math.abs(at) < 1e-9 ? "0" : signed(at, places)]);
}

export function bars(place, shown) {
  const { svg, width, height } = canvas(place, shown.title);
  const names = shown.rows.map((row) => make("text", { class: row.odd ? "name strong" : "name" }, row.name));
  svg.append(...names);
  const longest = Math.max(...names.map((name) => name.getComputedTextLength()));
  const left = Math.min(12 + longest, width * (width < 480 ? 0.44 : 0.4));
  const box = { left, right: width - 26, top: 8, bottom: height - 52 };
  const ends = [0, shown.band, -shown.band, ...shown.rows.flatMap((row) => [row.low, row.high])];
  const room = 0.04 * (Math.max(...ends) - Math.min(...ends)) || 0.1;
  const [low, high] = [Math.min(...ends) - room, Math.max(...ends) + room];
  const x = (at) => box.left + ((at - low) / (high - low)) * (box.right - box.left);
  if (shown.band > 0) {
    const [a, b] = [x(-shown.band), x(shown.band)];
    svg.append(make("rect", { x: a, y: box.top, width: b - a, height: box.bottom - box.top, class: "band" }));
  }
  for (const [at, words] of numbers(low, high, Math.max(3, Math.floor((box.right - box.left) / 62)))) {
    line(svg, x(at), box.top, x(at), box.bottom, "grid");
    svg.append(make("text", { x: x(at), y: box.bottom + 16, class: "below" }, words));
  }
  line(svg, x(0), box.top, x(0), box.bottom, "upright");
  shown.rows.forEach((row, i) => {
    const y = box.top + ROW * (i + 0.5);
    names[i].setAttribute("x", box.left - 8);
    names[i].setAttribute("y", y);
    shorten(names[i], row.name, box.left - 10);
    line(svg, x(row.low), y, x(row.high), y, row.odd ? "interval odd" : "interval");
    marked(svg, x(row.value), y, row.odd);
  });
  const axis = make("text", { x: width - 14, y: box.bottom + 38, class: "tick" }, shown.axis);
  svg.append(axis);
  fit(axis, width - 20);
}

// A name too long for the place loses its end.
function shorten(text, name, room) {
  const long = text.getComputedTextLength();
  if (long > room) text.textContent = `${name.slice(0, Math.floor((name.length * room) / long) - 1)}…`;
}

// A text too long for the place is set smaller.
function fit(text, room) {
  const long = text.getComputedTextLength();
  if (long > room) text.setAttribute("style", `font-size: ${(0.85 * room) / long}rem`);
}

export function history(place, shown) {
  const { svg, width, height } = canvas(place, shown.title);
  const box = { left: 58, right: width - 24, top: 12, bottom: height - 32 };
  const values = [
    ...shown.points.flatMap((p) => [p.low, p.high, ...(p.control || [])]),
    ...shown.limits,
    ...shown.trend.map((end) => end[1]),
  ];
  const room = 0.06 * (Math.max(...values) - Math.min(...values)) || 0.1;
  const [low, high] = [Math.min(...values) - room, Math.max(...values) + room];
  const days = Math.max(1, shown.last - shown.first);
  const edge = 14;
  const x = (day) => box.left + edge + ((day - shown.first) / days) * (box.right - box.left - edge);
  const y = (at) => box.bottom - ((at - low) / (high - low)) * (box.bottom - box.top);
  for (const [at, words] of numbers(low, high, 6)) {
    line(svg, box.left, y(at), box.right, y(at), "grid");
    svg.append(make("text", { x: box.left - 6, y: y(at), class: "tick" }, words));
  }
  let last = -Infinity;
  for (const [day, words] of shown.ticks) {
    line(svg, x(day), box.top, x(day), box.bottom, "grid");
    if (x(day) - last < 10 * words.length) continue;
    svg.append(make("text", { x: x(day), y: box.bottom + 18, class: "below" }, words));
    last = x(day);
  }
  for (const limit of shown.limits) line(svg, box.left, y(limit), box.right, y(limit), "limit");
  line(svg, x(shown.due), box.top, x(shown.due), box.bottom, "upright found");
  const turned = { x: x(shown.due) - 12, y: box.bottom - 8, class: "turned" };
  turned.transform = `rotate(-90 ${turned.x} ${turned.y})`;
  svg.append(make("text", turned, shown.due_words));
  if (shown.trend.length) {
    const points = shown.trend.map(([day, at]) => `${x(day)},${y(at)}`).join(" ");
    svg.append(make("polyline", { points, class: shown.significant ? "trend sure" : "trend" }));
  }
  for (const p of shown.points) {
    for (const at of p.control || []) line(svg, x(p.day) - 9, y(at), x(p.day) + 9, y(at), "mark");
    line(svg, x(p.day), y(p.low), x(p.day), y(p.high), p.odd ? "interval odd" : "interval");
    marked(svg, x(p.day), y(p.value), p.odd);
  }
}
