// Response and residuals of a lesson.
import { canvas, make, signed, ticks } from "/static/svg.js";

const SHAPES = {
  R: (x, y) => `M${x - 5},${y} a5,5 0 1,0 10,0 a5,5 0 1,0 -10,0`,
  G1: (x, y) => `M${x - 4.5},${y - 4.5} h9 v9 h-9 z`,
  G2: (x, y) => `M${x},${y - 6} l6,6 l-6,6 l-6,-6 z`,
  B: (x, y) => `M${x},${y - 6} l6,10 h-12 z`,
};
const NAMES = { R: "red", G1: "green 1", G2: "green 2", B: "blue" };

function frame(svg, box, x, y, xTicks, yTicks, xName, yName) {
  for (const [at, words] of xTicks) {
    svg.append(make("line", { x1: x(at), x2: x(at), y1: box.top, y2: box.bottom, class: "grid" }));
    svg.append(make("text", { x: x(at), y: box.bottom + 18, class: "below" }, words));
  }
  for (const [at, words] of yTicks) {
    svg.append(make("line", { x1: box.left, x2: box.right, y1: y(at), y2: y(at), class: "grid" }));
    svg.append(make("text", { x: box.left - 6, y: y(at), class: "tick" }, words));
  }
  const name = box.right > 420 ? xName : xName.replace(/ above.*/, "");
  svg.append(make("text", { x: (box.left + box.right) / 2, y: box.bottom + 40, class: "below" }, name));
  svg.append(make("text", { x: 2, y: 14, class: "unit" }, yName));
}

function range(plot) {
  const all = Object.values(plot.channels).flatMap((channel) => channel.points.map((point) => point[0]));
  return [Math.min(...all) - 0.5, Math.max(...all) + 0.5];
}

function xTicks(low, high, width) {
  const { step, values } = ticks(low, high, Math.max(4, Math.floor(width / 60)));
  return values.map((at) => [at, Math.abs(at) < 1e-9 ? "0" : signed(at, step < 1 ? 1 : 0)]);
}

function counted(high) {
  const found = [];
  for (let at = 1; at <= high; at += high > 12 ? 3 : 1) found.push([at, `${at}`]);
  return found;
}

export function response(place, plot) {
  const { svg, width, height } = canvas(place, "Raw level of each frame against its placement, with the fitted lines and clip");
  const box = { left: 58, right: width - 10, top: 36, bottom: height - 48 };
  const [low, high] = range(plot);
  const floor = 4;
  const tops = Object.values(plot.channels).map((channel) => channel.span);
  const ceiling = Math.log2(Math.max(...tops)) + 0.7;
  const x = (at) => box.left + ((at - low) / (high - low)) * (box.right - box.left);
  const y = (at) => box.bottom - ((at - floor) / (ceiling - floor)) * (box.bottom - box.top);
  const levels = [];
  for (let k = 4; k <= ceiling; k += 2) levels.push([k, `${2 ** k}`]);
  frame(svg, box, x, y, xTicks(low, high, width), levels, "placement, EV above what the meter asked for", "DN above black");
  vertical(svg, box, x, 0, "metered grey", low, high, 0);
  if (plot.true_headroom !== undefined) vertical(svg, box, x, plot.true_headroom, "true clip", low, high, 1, "true");
  if (plot.headroom !== null) vertical(svg, box, x, plot.headroom, plot.seen ? "clip found" : "at least", low, high, 2, "found");
  for (const [name, channel] of Object.entries(plot.channels)) {
    const bend = Math.log2(channel.span / channel.metered);
    const start = Math.max(low, floor - Math.log2(channel.metered));
    const points = [
      [start, start + Math.log2(channel.metered)],
      [bend, Math.log2(channel.span)],
      [high, Math.log2(channel.span)],
    ].map(([a, b]) => `${x(a)},${y(b)}`);
    svg.append(make("polyline", { points: points.join(" "), class: `line-${name}` }));
    for (const [at, level, used, newest] of channel.points) {
      if (level <= 2 ** floor) continue;
      const d = SHAPES[name](x(at), y(Math.log2(level)));
      svg.append(make("path", { d, class: `dot-${name}${used ? "" : " open"}` }));
      if (newest) svg.append(make("circle", { cx: x(at), cy: y(Math.log2(level)), r: 10, class: "newest" }));
    }
  }
  legend(svg, box, Object.keys(plot.channels));
}

function vertical(svg, box, x, at, words, low, high, step, kind = "") {
  if (at < low || at > high) return;
  svg.append(make("line", { x1: x(at), x2: x(at), y1: box.top, y2: box.bottom, class: `upright ${kind}` }));
  const start = x(at) < box.left + 100;
  const values = { x: x(at) + (start ? 5 : -5), y: box.bottom - 10 - 20 * step, class: "onset" };
  values["text-anchor"] = start ? "start" : "end";
  svg.append(make("text", values, words));
}

// In one line above the plot, from the right.
function legend(svg, box, names) {
  const short = box.right < 480;
  let x = box.right;
  for (const name of [...names].reverse()) {
    const words = short ? name : NAMES[name];
    x -= 8.5 * words.length;
    svg.append(make("text", { x, y: 14, class: "key" }, words));
    x -= 12;
    svg.append(make("path", { d: SHAPES[name](x, 14), class: `dot-${name}` }));
    x -= 16;
  }
}

export function residuals(place, plot) {
  const across = { points: plot.residuals, ends: range(plot), name: "placement, EV above what the meter asked for" };
  offTheLine(place, plot, across, "How far each frame lies off the line, in EV");
}

export function inOrder(place, plot) {
  const last = Math.max(2, ...plot.order.map((point) => point[0]));
  const across = { points: plot.order, ends: [0.5, last + 0.5], name: "frame, in the order of shooting", counts: true };
  offTheLine(place, plot, across, "How far each frame lies off the line, in the order of shooting");
}

function offTheLine(place, plot, across, title) {
  const { svg, width, height } = canvas(place, title);
  const box = { left: 58, right: width - 10, top: 36, bottom: height - 48 };
  const [low, high] = across.ends;
  const most = Math.max(0.1, 2.5 * plot.scatter, ...across.points.map((point) => 1.2 * Math.abs(point[1])));
  const x = (at) => box.left + ((at - low) / (high - low)) * (box.right - box.left);
  const y = (at) => (box.top + box.bottom) / 2 - (at / most) * ((box.bottom - box.top) / 2);
  const { step, values } = ticks(-most, most, 5);
  const places = step < 0.1 ? 2 : step < 1 ? 1 : 0;
  const rows = values.map((at) => [at, Math.abs(at) < 1e-9 ? "0" : signed(at, places)]);
  const band = y(-plot.scatter) - y(plot.scatter);
  svg.append(make("rect", { x: box.left, y: y(plot.scatter), width: box.right - box.left, height: band, class: "band" }));
  const marks = across.counts ? counted(high) : xTicks(low, high, width);
  frame(svg, box, x, y, marks, rows, across.name, "EV off the line; band: frame scatter");
  for (const [at, off, used] of across.points) {
    const d = used ? SHAPES.R(x(at), y(off)) : `M${x(at) - 6},${y(off) - 6} l12,12 m0,-12 l-12,12`;
    svg.append(make("path", { d, class: used ? "dot" : "cross" }));
  }
}
