// The table of readings: answered while typed, saved when a field is left.
import { get, later, post, Refused, say, state as told, trouble } from "/static/net.js";
import { changed, controls, settle } from "/static/sheet.js";

const series = document.getElementById("series");
const table = document.getElementById("lines");
const state = document.getElementById("sheet-state");
const wrong = document.getElementById("sheet-trouble");
const against = document.getElementById("against");
const folder = series.dataset.folder;
const lines = () => [...table.querySelectorAll("tr.line")];
const part = (line, column) => line.querySelector(`[data-column="${column}"]`);

function reply(line, text, bad) {
  const place = line.querySelector(".reply");
  say(place, text);
  place.classList.toggle("wrong", bad);
  const reading = part(line, "reading");
  if (bad) reading.setAttribute("aria-invalid", "true");
  else reading.removeAttribute("aria-invalid");
}

const typed = (line) => ({ reading: part(line, "reading").value, mode: part(line, "mode").value });
const same = (line, values) => JSON.stringify(typed(line)) === JSON.stringify(values);

async function answer(line) {
  const values = typed(line);
  let [text, bad] = ["", false];
  try {
    text = (await get("/series/answer", values)).answer;
  } catch (problem) {
    [text, bad] = [problem.message, true];
  }
  if (!same(line, values)) return;
  line.dataset.answered = JSON.stringify(values);
  reply(line, text, bad);
}

// A reading without a mode takes the mode of the row above that has one.
function guessMode(line) {
  const reading = part(line, "reading").value.trim().toLowerCase();
  const mode = part(line, "mode");
  if (mode.value || !reading || reading === "dark") return;
  const all = lines();
  for (let i = all.indexOf(line) - 1; i >= 0; i--) {
    const above = part(all[i], "mode").value;
    if (above) {
      mode.value = above;
      return;
    }
  }
}

const soon = later(answer, 120);
table.addEventListener("input", (event) => {
  const line = event.target.closest("tr.line");
  if (event.target.dataset.column === "reading") {
    guessMode(line);
    soon(line);
  }
  if (event.target.dataset.column === "mode") answer(line);
  if (event.target.dataset.column === "use") line.classList.toggle("unused", !event.target.checked);
  delete line.dataset.refused;
});
table.addEventListener("change", () => save());

let saving = Promise.resolve();
const save = () => (saving = saving.then(saveNow));

async function saveNow() {
  for (const line of lines()) {
    if (changed(line) && line.dataset.answered !== JSON.stringify(typed(line))) await answer(line);
  }
  const open = lines().filter((line) => changed(line) && !line.dataset.refused);
  const sound = open.filter((line) => !part(line, "reading").hasAttribute("aria-invalid"));
  if (!sound.length) {
    if (open.length) told(state, "Not saved yet: correct the marked reading first.", true);
    return;
  }
  try {
    await send(sound);
    trouble(wrong, "");
  } catch (problem) {
    if (sound.length === 1) refuse(sound[0], problem);
    else await oneByOne(sound);
  }
}

async function oneByOne(open) {
  for (const line of open) {
    try {
      await send([line]);
    } catch (problem) {
      refuse(line, problem);
    }
  }
}

function refuse(line, problem) {
  if (!(problem instanceof Refused)) throw problem;
  line.dataset.refused = "";
  trouble(wrong, problem.message);
  told(state, "Not saved.", true);
}

async function send(open) {
  const edits = open.map(changed);
  const said = await post("/series/sheet", { folder, version: series.dataset.version, lines: edits });
  series.dataset.version = said.version;
  open.forEach((line, i) => settle(line, said.rows[i]));
  against.replaceChildren(...said.against.map((words) => {
    const line = document.createElement("p");
    line.className = "warn";
    line.textContent = words;
    return line;
  }));
  const kept = said.kept ? ` The sheet as it was is kept as ${said.kept}.` : "";
  told(state, `Saved to sheet.csv at ${new Date().toLocaleTimeString()}.${kept}`);
}

table.addEventListener("keydown", (event) => {
  const column = event.target.dataset.column;
  if (!column || event.target.tagName !== "INPUT" || event.target.type === "checkbox") return;
  const step = { Enter: 1, ArrowDown: 1, ArrowUp: -1 }[event.key];
  if (!step || event.ctrlKey || event.altKey || event.shiftKey || event.metaKey) return;
  event.preventDefault();
  const all = lines();
  const next = all[all.indexOf(event.target.closest("tr.line")) + step];
  const there = next && part(next, column);
  if (there) {
    there.focus();
    there.select();
  } else if (event.key === "Enter") save();
});

table.addEventListener("click", (event) => {
  if (!event.target.closest(".fill-down")) return;
  const all = lines();
  const line = event.target.closest("tr.line");
  const [reading, mode] = ["reading", "mode"].map((column) => part(line, column).value);
  for (const below of all.slice(all.indexOf(line) + 1)) {
    const own = part(below, "reading").value.trim().toLowerCase();
    if (own === "dark" && reading.trim().toLowerCase() !== "dark") continue;
    part(below, "reading").value = reading;
    part(below, "mode").value = mode;
    const place = line.querySelector(".reply");
    below.dataset.answered = JSON.stringify(typed(below));
    delete below.dataset.refused;
    reply(below, place.textContent, place.classList.contains("wrong"));
  }
  save();
});

document.getElementById("add-general").addEventListener("click", () => {
  const all = lines().filter((line) => line.classList.contains("general"));
  const next = all.at(-1).cloneNode(true);
  next.dataset.row = "";
  for (const control of controls(next)) {
    control.defaultValue = "";
    if (control.dataset.column === "reading") control.value = "";
  }
  const id = `answer-added-${all.length}`;
  next.querySelector(".reply").id = id;
  part(next, "reading").id = `reading-added-${all.length}`;
  part(next, "reading").setAttribute("aria-describedby", id);
  part(next, "mode").value = part(all.at(-1), "mode").value;
  all.at(-1).after(next);
  reply(next, "", false);
  part(next, "reading").focus();
});

document.getElementById("correct").addEventListener("change", (event) => {
  for (const group of table.querySelectorAll(".corrections")) group.hidden = !event.target.checked;
});

document.addEventListener(
  "error",
  (event) => {
    if (event.target.closest?.(".thumb")) event.target.closest(".thumb").classList.add("broken");
  },
  true,
);

// What was typed before this script came, or is restored by the browser.
if (lines().some(changed)) save();

if ("tagsWanted" in series.dataset) {
  const said = await get("/series/tags", { folder });
  for (const place of table.querySelectorAll("[data-said]")) {
    const tags = said[place.dataset.said];
    if (tags) say(place, `${tags.iso ? `ISO ${tags.iso}` : ""} ${tags.time} ${tags.aperture}`);
  }
}
