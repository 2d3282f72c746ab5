// The plots of a task; a size that is chosen names its fault.
import { onResize } from "/static/svg.js";
import { inOrder, residuals, response } from "/static/chart.js";

const plot = JSON.parse(document.getElementById("plot-data").textContent);
const place = (name) => document.querySelector(`#${name} .drawing`);

function draw() {
  response(place("response"), plot);
  residuals(place("residuals"), plot);
  inOrder(place("order"), plot);
}

if (plot) {
  onResize(place("response"), draw);
  draw();
}
