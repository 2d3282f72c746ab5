// Forms that are answered while they are typed.
import { get, later, say, trouble } from "/static/net.js";

const byId = (name) => document.getElementById(name);

function hint(name, wrong) {
  const line = byId(`hint-${name}`);
  if (!line) return false;
  say(line, wrong || line.dataset.hint);
  line.classList.toggle("wrong", Boolean(wrong));
  for (const input of document.querySelectorAll(`[aria-describedby~="hint-${name}"]`)) {
    if (wrong) input.setAttribute("aria-invalid", "true");
    else input.removeAttribute("aria-invalid");
  }
  return true;
}

function fields(form) {
  return [...new FormData(form)].filter(([, value]) => value !== "");
}

function start(form) {
  const answer = document.querySelector(".two");
  let running = new AbortController();
  let marked = "";

  function settle() {
    if (marked) hint(marked, "");
    marked = "";
    trouble(byId("trouble"), "");
    answer.removeAttribute("aria-busy");
  }

  // An answer to an earlier question never stands beside what is wrong with this one.
  function clear() {
    say(byId("headline"), "No answer yet: mend what is marked.");
    byId("headline").classList.add("waiting");
    byId("detail").replaceChildren();
    document.dispatchEvent(new CustomEvent("answered", { detail: { scale: null } }));
  }

  async function ask() {
    const values = fields(form);
    const query = new URLSearchParams(values);
    history.replaceState(null, "", `${form.getAttribute("action")}?${query}`);
    for (const link of document.querySelectorAll("a[data-follows]")) link.search = query;
    running.abort();
    running = new AbortController();
    answer.setAttribute("aria-busy", "true");
    try {
      const said = await get(form.dataset.answer, values, running.signal);
      settle();
      say(byId("headline"), said.headline);
      byId("headline").classList.toggle("waiting", said.missing);
      byId("detail").innerHTML = said.html;
      document.dispatchEvent(new CustomEvent("answered", { detail: said }));
    } catch (problem) {
      if (problem.name === "AbortError") return;
      settle();
      clear();
      if (problem.field && hint(problem.field, problem.message)) marked = problem.field;
      else trouble(byId("trouble"), problem.message);
    }
  }

  const soon = later(ask, 150);
  if (form.dataset.ask !== "submit") {
    form.addEventListener("input", soon);
  } else {
    answer.dataset.patient = "";
  }
  const typed = [...form.elements].some((e) => e.type === "text" && e.value !== e.defaultValue);
  if (typed && form.dataset.ask !== "submit") ask();
  form.addEventListener("change", (event) => {
    if (event.target.matches("[data-reload]")) form.submit();
  });
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    ask();
  });
  const more = form.querySelector("[data-more-pairs]");
  if (more) {
    more.hidden = false;
    more.addEventListener("click", () => addPair(form.querySelector("[data-pairs]")));
  }
}

function addPair(pairs) {
  const all = pairs.querySelectorAll(".pair");
  const last = all[all.length - 1];
  const next = last.cloneNode(true);
  for (const input of next.querySelectorAll("input")) input.value = "";
  for (const name of next.querySelectorAll(".unseen .unseen")) name.textContent = ` of ${pairs.dataset.pairs} ${all.length + 1}`;
  last.after(next);
  next.querySelector("input").focus();
}

for (const form of document.querySelectorAll("form.ask")) start(form);
