// The result: progress while measuring, then a fit that follows every correction.
import { get, post, say, state, trouble } from "/static/net.js";
import { response } from "/static/chart.js";
import { changed, controls, value } from "/static/sheet.js";
import { onResize } from "/static/svg.js";

const content = document.getElementById("content");
const folder = content.dataset.folder;
const said = document.getElementById("said");
const wrong = document.getElementById("wrong");

// What is typed and not yet in the sheet, by file and column.
function unsent() {
  const found = new Map();
  for (const line of content.querySelectorAll("tr.line")) {
    // what was sent may have been changed back since
    const sent = line.dataset.sent?.split(" ") ?? [];
    const kept = controls(line).filter((each) => sent.includes(each.dataset.column));
    const values = Object.fromEntries(kept.map((each) => [each.dataset.column, value(each)]));
    Object.assign(values, changed(line)?.values);
    const said = line.querySelector(".reply").textContent;
    if (said || Object.keys(values).length) found.set(line.dataset.file, { values, said });
  }
  return found;
}

function typeAgain(typed) {
  for (const [file, { values, said }] of typed) {
    const line = lineOf(file);
    if (!line) continue;
    for (const control of controls(line)) {
      if (control.dataset.column in values) value(control, values[control.dataset.column]);
    }
    if (changed(line)) reply(line, said);
  }
}

const lineOf = (file) => content.querySelector(`tr.line[data-file="${CSS.escape(file)}"]`);

function reply(line, text) {
  const place = line.querySelector(".reply");
  say(place, text);
  place.hidden = !text;
  for (const control of controls(line)) {
    if (text && value(control) !== "" && control.dataset.column === "reading") control.setAttribute("aria-invalid", "true");
    else control.removeAttribute("aria-invalid");
  }
}

function show(html) {
  const typed = unsent();
  const active = document.activeElement;
  const line = active?.closest?.("tr.line");
  const again = line && active.dataset.column
    ? `tr.line[data-file="${CSS.escape(line.dataset.file)}"] [data-column="${active.dataset.column}"]`
    : active?.id && content.contains(active) ? `#${CSS.escape(active.id)}` : "";
  const report = document.getElementById("report");
  content.innerHTML = html;
  typeAgain(typed);
  const next = document.getElementById("report");
  if (report && next && !report.hasAttribute("data-empty")) {
    next.replaceChildren(...report.childNodes);
    next.removeAttribute("data-empty");
  }
  if (again) content.querySelector(again)?.focus();
  begin();
}

async function watch() {
  const words = document.getElementById("progress-words");
  const bar = document.getElementById("progress-bar");
  const job = await get("/result/job", { folder });
  if (job.state === "running") {
    say(words, job.words);
    if (job.total) {
      bar.max = job.total;
      bar.value = job.done;
    }
    setTimeout(() => watch().catch(tell), 250);
    return;
  }
  show((await get("/result/content", { folder })).html);
  const done = job.state === "done" && !content.querySelector("[role=alert]");
  state(said, job.state === "done" ? "Measured." : job.words, !done);
}

function tell(problem) {
  trouble(wrong, problem.message);
}

let newest = 0;
async function loadReport() {
  const place = document.getElementById("report");
  const mine = ++newest;
  place.setAttribute("aria-busy", "true");
  try {
    const { html } = await get("/result/report", { folder });
    if (mine !== newest) return;
    place.innerHTML = html;
    place.removeAttribute("data-empty");
  } catch (problem) {
    if (mine === newest) {
      const line = document.createElement("p");
      line.className = "trouble";
      line.textContent = problem.message;
      place.replaceChildren(line);
    }
  }
  place.removeAttribute("aria-busy");
}

// A reading without a mode takes that of another row; without any it is asked for.
function guessMode(line) {
  const [reading, mode] = ["reading", "mode"].map((name) => line.querySelector(`[data-column="${name}"]`));
  const typed = reading.value.trim().toLowerCase();
  if (!typed || typed === "dark" || mode.value) return true;
  mode.value = content.querySelector("[data-usual-mode]").dataset.usualMode;
  if (mode.value) return true;
  reply(line, "Choose how it was read.");
  mode.focus();
  return false;
}

// The row is looked up when its turn comes: the one before may have drawn the table anew.
async function correct(file) {
  const line = lineOf(file);
  if (!line || !changed(line) || !guessMode(line)) return;
  const edit = changed(line);
  line.dataset.sent = Object.keys(edit.values).join(" ");
  const version = content.querySelector("[data-version]").dataset.version;
  try {
    const answer = await post("/result/edit", { folder, version, lines: [edit] });
    trouble(wrong, "");
    reply(lineOf(file), "");
    show(answer.html);
    state(said, answer.said);
  } catch (problem) {
    reply(lineOf(file), `Not counted: ${problem.message}`);
    state(said, "Not saved; the result is the one without that correction.", true);
    lineOf(file).querySelector(".reply").scrollIntoView({ block: "nearest" });
  }
}

function hint(name, text) {
  const place = document.getElementById(`hint-${name}`);
  if (!place) return false;
  say(place, text || place.dataset.hint);
  place.classList.toggle("wrong", Boolean(text));
  return true;
}

async function options(form) {
  const values = Object.fromEntries(new FormData(form));
  try {
    const answer = await post("/result/options", { folder, ...values });
    trouble(wrong, "");
    show(answer.html);
    state(said, answer.said);
  } catch (problem) {
    state(said, "Not fitted again; the result is the one from before.", true);
    if (!problem.field || !hint(problem.field, problem.message)) tell(problem);
  }
}

async function save(form) {
  const place = document.getElementById("save-state");
  const replace = form.elements.replace.checked;
  try {
    const answer = await post("/result/save", { folder, name: form.elements.name.value, replace });
    hint("name", "");
    const link = document.createElement("a");
    link.href = `/onset/settings?${new URLSearchParams({ profile: answer.saved })}`;
    link.textContent = "Use it on set";
    const kept = answer.kept ? ` The older one is kept as ${answer.kept}.` : "";
    place.classList.remove("failed");
    place.replaceChildren(`Saved as ${answer.saved}.${kept} `, link);
  } catch (problem) {
    if (!problem.field || !hint(problem.field, problem.message)) state(place, problem.message, true);
  }
}

let working = Promise.resolve();
const queue = (work) => (working = working.then(work).catch(tell));

content.addEventListener("change", (event) => {
  const line = event.target.closest("tr.line");
  if (line && event.target.dataset.column) queue(() => correct(line.dataset.file));
  if (event.target.closest("#options")) queue(() => options(event.target.closest("#options")));
});
content.addEventListener("keydown", (event) => {
  if (event.key === "Enter" && event.target.dataset.column === "reading") event.target.blur();
});
content.addEventListener("submit", (event) => {
  if (event.target.id === "save" || event.target.id === "options") event.preventDefault();
  if (event.target.id === "save") queue(() => save(event.target));
});

let drawn = null;
function drawResponse() {
  const place = content.querySelector("#response .drawing");
  if (!place || !drawn) return;
  response(place, drawn);
}

function begin() {
  const data = document.getElementById("plot-data");
  drawn = data && JSON.parse(data.textContent);
  if (drawn) {
    drawResponse();
    onResize(content.querySelector("#response .drawing"), drawResponse);
  }
  if (content.querySelector("[data-running]")) watch().catch(tell);
  if (document.getElementById("report")) loadReport();
}
begin();
