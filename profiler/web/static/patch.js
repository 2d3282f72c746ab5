// The patch on the preview: pointer, keyboard, numbers; all write one hidden field.
import { get, later, say } from "/static/net.js";

const preview = document.getElementById("preview");
const picture = document.getElementById("preview-picture");
const patch = document.getElementById("patch");
const value = document.getElementById("patch-value");
const said = document.getElementById("patch-said");
const series = document.getElementById("series");
const inputs = ["x", "y", "w", "h"].map((name) => document.getElementById(`patch-${name}`));
const ways = document.querySelectorAll("input[name=patch_by]");
const LEAST = 0.02;
let at = null; // x, y, w, h as parts of the frame

// Where the picture lies in its box, which keeps its shape while the picture loads.
function shown() {
  const { clientWidth: width, clientHeight: height } = preview;
  const { naturalWidth, naturalHeight } = picture;
  if (!naturalWidth) return null;
  const times = Math.min(width / naturalWidth, height / naturalHeight);
  const [w, h] = [naturalWidth * times, naturalHeight * times];
  return { left: (width - w) / 2, top: (height - h) / 2, width: w, height: h };
}

function draw() {
  const box = shown();
  patch.hidden = !(at && box);
  if (patch.hidden) return;
  patch.style.left = `${box.left + at[0] * box.width}px`;
  patch.style.top = `${box.top + at[1] * box.height}px`;
  patch.style.width = `${at[2] * box.width}px`;
  patch.style.height = `${at[3] * box.height}px`;
  inputs.forEach((input, i) => {
    if (document.activeElement !== input) input.value = (100 * at[i]).toFixed(1);
  });
}

const announce = later(() => {
  const [x, y, w, h] = at.map((part) => (100 * part).toFixed(1));
  say(said, `Patch at ${x} % from the left, ${y} % from the top, ${w} % wide, ${h} % high`);
}, 400);

function put(next, byHand) {
  const w = Math.min(1, Math.max(LEAST, next[2]));
  const h = Math.min(1, Math.max(LEAST, next[3]));
  at = [Math.min(1 - w, Math.max(0, next[0])), Math.min(1 - h, Math.max(0, next[1])), w, h];
  if (byHand) {
    value.value = at.map((part) => part.toFixed(4)).join(",");
    for (const way of ways) way.checked = way.value === "hand";
    patch.classList.remove("found");
    announce();
  }
  draw();
}

async function find() {
  const address = new URL(picture.src);
  const values = { folder: series.dataset.folder, frame: address.searchParams.get("frame") };
  try {
    const found = await get("/series/patch", values);
    say(document.getElementById("patch-even"), found.even);
    if (![...ways].find((way) => way.checked && way.value === "auto")) return;
    if (!found.patch) {
      say(said, "No even part was found on this frame; draw it.");
      put([0.4, 0.4, 0.2, 0.2], false);
    } else {
      put(found.patch.split(",").map(Number), false);
    }
    patch.classList.add("found");
  } catch (problem) {
    say(document.getElementById("patch-help"), problem.message);
  }
}

preview.addEventListener("pointerdown", (event) => {
  const box = shown();
  if (!box || event.button) return;
  event.preventDefault();
  preview.setPointerCapture(event.pointerId);
  const place = preview.getBoundingClientRect();
  const part = (e) => [
    (e.clientX - place.left - box.left) / box.width,
    (e.clientY - place.top - box.top) / box.height,
  ];
  const [startX, startY] = part(event);
  const from = at && [...at];
  const grip = event.target.closest(".grip");
  const inside = event.target.closest(".patch");
  const move = (e) => {
    const [x, y] = part(e);
    const [dx, dy] = [x - startX, y - startY];
    if (grip) put([from[0], from[1], from[2] + dx, from[3] + dy], true);
    else if (inside) put([from[0] + dx, from[1] + dy, from[2], from[3]], true);
    else if (Math.abs(dx) > LEAST && Math.abs(dy) > LEAST) {
      put([Math.min(x, startX), Math.min(y, startY), Math.abs(dx), Math.abs(dy)], true);
    }
  };
  const end = () => {
    preview.removeEventListener("pointermove", move);
    preview.removeEventListener("pointerup", end);
    preview.removeEventListener("pointercancel", end);
    patch.focus({ preventScroll: true });
  };
  preview.addEventListener("pointermove", move);
  preview.addEventListener("pointerup", end);
  preview.addEventListener("pointercancel", end);
});

patch.addEventListener("keydown", (event) => {
  const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
  if (!step || !at || event.ctrlKey || event.altKey || event.metaKey) return;
  event.preventDefault();
  const [dx, dy] = step.map((part) => part * 0.01);
  if (event.shiftKey) put([at[0], at[1], at[2] + dx, at[3] + dy], true);
  else put([at[0] + dx, at[1] + dy, at[2], at[3]], true);
});

inputs.forEach((input, i) => {
  input.addEventListener("input", () => {
    const typed = Number(input.value) / 100;
    if (!at || !Number.isFinite(typed) || input.value === "") return;
    const next = [...at];
    next[i] = typed;
    put(next, true);
  });
  input.addEventListener("blur", draw);
  input.addEventListener("keydown", (event) => {
    if (event.key === "Enter") event.preventDefault();
  });
});
for (const way of ways) {
  way.addEventListener("change", () => {
    if (way.value === "auto") find();
    else if (at) put(at, true);
  });
}

picture.addEventListener("load", draw);
picture.addEventListener("error", () => say(document.getElementById("patch-help"), "This frame can't be read."));
new ResizeObserver(draw).observe(preview);
if (value.value) put(value.value.split(",").map(Number), false);
else find();
