// A series that grows: asked for twice a second while the page is seen.
import { get, say, trouble } from "/static/net.js";
import { onResize } from "/static/svg.js";
import { response } from "/static/chart.js";

const follow = document.getElementById("follow");
const place = document.querySelector("#response .drawing");
const wrong = document.getElementById("trouble");
let plot = JSON.parse(document.getElementById("plot-data").textContent);
let html = "";

function draw() {
  if (plot) response(place, plot);
  else place.replaceChildren();
}

// The newest frame is offered beside the reading, unless another one was chosen.
function offer(latest) {
  const choice = document.getElementById("file");
  if (!choice || !latest) return;
  let option = document.getElementById("latest");
  if (!option) {
    option = document.createElement("option");
    option.id = "latest";
    choice.append(option);
  }
  if (option.selected && option.value !== latest) return;
  option.value = latest;
  say(option, latest);
}

async function look() {
  try {
    const said = await get("/series/follow/answer", { folder: follow.dataset.folder });
    const headline = document.getElementById("headline");
    say(headline, said.headline);
    headline.classList.toggle("wrong", said.wrong);
    const detail = document.getElementById("detail");
    if (detail && said.html !== html) detail.innerHTML = html = said.html;
    if (JSON.stringify(said.plot) !== JSON.stringify(plot)) {
      plot = said.plot;
      draw();
    }
    offer(said.latest);
    if (said.trouble || wrong.dataset.ours) {
      trouble(wrong, said.trouble);
      wrong.dataset.ours = said.trouble ? "yes" : "";
    }
    if (!said.running) return;
  } catch (problem) {
    trouble(wrong, problem.message);
    wrong.dataset.ours = "yes";
  }
  setTimeout(look, document.hidden ? 2000 : 500);
}

if (follow) {
  onResize(place, draw);
  draw();
  if ("running" in follow.dataset) look();
}
