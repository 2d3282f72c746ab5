// Looks every three seconds whether the class has moved on, and then loads the page again.
import { get } from "/static/net.js";

const place = document.getElementById("class");
let last = "";

async function look() {
  try {
    const said = await get("/state", {});
    const now = JSON.stringify(said);
    const stale = "teacher" in place.dataset ? last && now !== last : String(said.told) !== place.dataset.told;
    if (stale) {
      location.reload();
      return;
    }
    last = now;
  } catch {
    // the server has ended, or the network pauses: the page stays as it is
  }
  setTimeout(look, 3000);
}

look();
