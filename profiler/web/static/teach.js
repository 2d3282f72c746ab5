// Sliders: the newest position is asked for as soon as the last answer is in.
import { get, say, trouble } from "/static/net.js";
import { onResize } from "/static/svg.js";
import { residuals, response } from "/static/chart.js";

const form = document.getElementById("sliders");
const places = ["response", "residuals"].map((name) => document.querySelector(`#${name} .drawing`));
let plot = JSON.parse(document.getElementById("plot-data").textContent);
let asking = false;
let waiting = false;

function draw() {
  if (!plot) {
    for (const place of places) place.replaceChildren();
    return;
  }
  response(places[0], plot);
  residuals(places[1], plot);
}

async function ask() {
  if (asking) {
    waiting = true;
    return;
  }
  asking = true;
  const values = [...new FormData(form)];
  try {
    const said = await get("/teach/answer", values);
    plot = said.plot;
    say(document.getElementById("headline"), said.headline);
    document.getElementById("detail").innerHTML = said.html;
    trouble(document.getElementById("trouble"), "");
    history.replaceState(null, "", `/teach?${new URLSearchParams(values)}`);
    draw();
  } catch (problem) {
    trouble(document.getElementById("trouble"), problem.message);
  }
  asking = false;
  if (waiting) {
    waiting = false;
    ask();
  }
}

form.addEventListener("input", (event) => {
  const output = form.querySelector(`output[for="${event.target.id}"]`);
  if (output) say(output, `${event.target.value} ${output.dataset.unit}`);
  event.target.setAttribute("aria-valuetext", output ? output.textContent : "");
  ask();
});
form.addEventListener("submit", (event) => {
  event.preventDefault();
  ask();
});
const another = document.getElementById("another");
another.hidden = false;
another.addEventListener("click", () => {
  form.elements.seed.value = Number(form.elements.seed.value) + 1;
  ask();
});
for (const input of form.querySelectorAll("input[type=range]")) {
  input.setAttribute("aria-valuetext", form.querySelector(`output[for="${input.id}"]`).textContent);
}
onResize(places[0], draw);
draw();
