// Drawing helpers: elements, numbers that make good ticks, labels that keep apart.
export function make(name, values = {}, text = "") {
  const element = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(values)) element.setAttribute(key, value);
  if (text) element.textContent = text;
  return element;
}

export function canvas(place, title) {
  // data-scale draws everything larger, to be read across a room
  const wish = Number(place.dataset.scale || 1);
  const scale = Math.max(1, Math.min(wish, place.clientWidth / 480));
  const width = Math.max(240, place.clientWidth / scale);
  const height = Math.max(120, place.clientHeight / scale);
  const size = { width: width * scale, height: height * scale };
  const svg = make("svg", { viewBox: `0 0 ${width} ${height}`, ...size, role: "img" });
  svg.setAttribute("aria-label", title);
  place.replaceChildren(svg);
  return { svg, width, height };
}

export function ticks(low, high, most) {
  let step = 0.01;
  for (let k = 0; (high - low) / step > most; k++) step *= [2, 2.5, 2][k % 3];
  step = Number(step.toPrecision(3));
  const found = [];
  for (let k = Math.ceil(low / step - 1e-9); k * step <= high + 1e-9; k++) found.push(k * step);
  return { step, values: found };
}

export const signed = (value, places) =>
  (value > 0 ? "+" : "") + value.toFixed(places).replace("-", "−");

// Positions at least `gap` apart, each as near to its wish as its neighbours allow.
export function spread(wishes, gap, low, high) {
  const order = wishes.map((_, i) => i).sort((a, b) => wishes[a] - wishes[b]);
  const blocks = [];
  for (const index of order) {
    let block = { members: [index], start: wishes[index] };
    while (blocks.length && blocks.at(-1).start + gap * blocks.at(-1).members.length > block.start) {
      const members = [...blocks.pop().members, ...block.members];
      const sum = members.reduce((total, i, k) => total + wishes[i] - gap * k, 0);
      block = { members, start: sum / members.length };
    }
    blocks.push(block);
  }
  const placed = [];
  let below = low;
  for (const { members, start } of blocks) {
    const from = Math.max(start, below);
    members.forEach((i, k) => (placed[i] = from + gap * k));
    below = from + gap * members.length;
  }
  let above = high;
  for (const index of order.reverse()) {
    placed[index] = Math.min(placed[index], above);
    above = placed[index] - gap;
  }
  return placed;
}

export function onResize(place, draw) {
  let width = place.clientWidth;
  new ResizeObserver(() => {
    if (place.clientWidth !== width) {
      width = place.clientWidth;
      draw();
    }
  }).observe(place);
}
