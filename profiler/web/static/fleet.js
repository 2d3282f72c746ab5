// Fleet: links that sort and turn pages stay on the page; charts are drawn from the numbers beside them.
import { bars, history } from "/static/fleet_chart.js";
import { onResize } from "/static/svg.js";

const form = document.querySelector("form.ask");
const detail = document.getElementById("detail");
const CHARTS = { bars, history };
let wanted = "";

function draw() {
  for (const figure of detail.querySelectorAll("figure[data-chart]")) {
    const chart = JSON.parse(figure.querySelector("script").textContent);
    CHARTS[chart.kind](figure.querySelector(".drawing"), chart);
  }
}

detail.addEventListener("click", (event) => {
  const link = event.target.closest("a[data-set]");
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  wanted = link.dataset.key;
  for (const [name, value] of Object.entries(JSON.parse(link.dataset.set))) {
    form.elements[name].value = value;
  }
  form.requestSubmit();
});

form.addEventListener("input", () => {
  if (form.elements.page) form.elements.page.value = "1";
});

document.addEventListener("answered", () => {
  draw();
  if (!wanted) return;
  const links = [...detail.querySelectorAll("a[data-key]")];
  const again = links.find((link) => link.dataset.key === wanted) || detail.querySelector("a");
  again?.focus();
  wanted = "";
});

onResize(detail, draw);
draw();
