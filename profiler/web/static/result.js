// The result: progress while measuring, then a fit that follows every correction.
import { get, post, say, trouble } from "/static/net.js";
import { changed, revert } from "/static/sheet.js";

const content = document.getElementById("content");
const folder = content.dataset.folder;
const said = document.getElementById("said");
const wrong = document.getElementById("wrong");

function show(html) {
  const active = document.activeElement;
  const line = active?.closest?.("tr.line");
  const again = line && active.dataset.column
    ? `tr.line[data-file="${CSS.escape(line.dataset.file)}"] [data-column="${active.dataset.column}"]`
    : active?.id && content.contains(active) ? `#${CSS.escape(active.id)}` : "";
  const report = document.getElementById("report");
  content.innerHTML = html;
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
  say(said, job.state === "done" ? "Measured and fitted." : job.words);
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
    if (mine === newest) say(place, problem.message);
  }
  place.removeAttribute("aria-busy");
}

async function correct(line) {
  const edit = changed(line);
  if (!edit) return;
  const version = content.querySelector("[data-version]").dataset.version;
  try {
    const answer = await post("/result/edit", { folder, version, lines: [edit] });
    trouble(wrong, "");
    show(answer.html);
    say(said, answer.said);
  } catch (problem) {
    revert(line);
    trouble(wrong, problem.message);
    wrong.scrollIntoView({ block: "nearest" });
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
    say(said, answer.said);
  } catch (problem) {
    if (!problem.field || !hint(problem.field, problem.message)) tell(problem);
  }
}

async function save(form) {
  const state = document.getElementById("save-state");
  const replace = form.elements.replace.checked;
  try {
    const answer = await post("/result/save", { folder, name: form.elements.name.value, replace });
    hint("name", "");
    const link = document.createElement("a");
    link.href = `/onset/settings?${new URLSearchParams({ profile: answer.saved })}`;
    link.textContent = "Use it on set";
    const kept = answer.kept ? ` The older one is kept as ${answer.kept}.` : "";
    state.replaceChildren(`Saved as ${answer.saved}.${kept} `, link);
  } catch (problem) {
    if (!problem.field || !hint(problem.field, problem.message)) say(state, problem.message);
  }
}

let working = Promise.resolve();
const queue = (work) => (working = working.then(work).catch(tell));

content.addEventListener("change", (event) => {
  const line = event.target.closest("tr.line");
  if (line && event.target.dataset.column) queue(() => correct(line));
  if (event.target.closest("#options")) queue(() => options(event.target.closest("#options")));
});
content.addEventListener("keydown", (event) => {
  if (event.key === "Enter" && event.target.dataset.column === "reading") event.target.blur();
});
content.addEventListener("submit", (event) => {
  if (event.target.id === "save" || event.target.id === "options") event.preventDefault();
  if (event.target.id === "save") queue(() => save(event.target));
});

function begin() {
  if (content.querySelector("[data-running]")) watch().catch(tell);
  if (document.getElementById("report")) loadReport();
}
begin();
