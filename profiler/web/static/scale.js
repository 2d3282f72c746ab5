// The vertical scale of On set, drawn anew with each answer and each width.
import { drawScale } from "/static/scale_draw.js";
import { onResize } from "/static/svg.js";

const place = document.querySelector("#scale .drawing");
let shown = JSON.parse(document.getElementById("scale-data").textContent);
const draw = () => drawScale(place, shown);

document.addEventListener("answered", (event) => {
  shown = event.detail.scale;
  draw();
});
onResize(place, draw);
draw();
