// The calibration page: which window this is, and the ways between its panels.

import { cautions, cautionsRead, element, heading, keepCautionsRead, makePanel } from "../table/panel.js";
import { boardAgain } from "./again.js";
import { checkLines, checkMap, knownOfMap } from "./check.js";
import { farLamp, lendLamp, ownLamp } from "./lamp.js";
import { quickLook } from "./marks.js";
import { photographs } from "./photos.js";
import { places } from "./places.js";
import { fill, makeRig } from "./rig.js";
import { start } from "./start.js";
import { tape } from "./tape.js";
import { verdict } from "./verdict.js";

const role = new URLSearchParams(location.search).get("window") ?? "both";
const box = at("panel");
const canvas = /** @type {HTMLCanvasElement} */ (at("crosses"));

if (role === "light") light();
else {
  const rig = makeRig(role === "desk" ? "desk" : "both", box,
    (changed) => (role === "desk" ? farLamp(changed) : ownLamp(at("light"), canvas, changed)),
    (made) => ({
      start: (trouble) => void start(made, trouble),
      tape: (kind) => tape(made, kind),
      photographs: () => photographs(made),
      check: (map) => void checkMap(made, map),
      known: (map) => void knownOfMap(made, map),
      lines: (map, lines, todo) => checkLines(made, map, lines, todo),
      verdict: (map, lines, trouble) => verdict(made, map, lines, trouble),
      boardAgain: (map) => boardAgain(made, map),
      quickLook: (map) => void quickLook(made, map),
      places: (map, lines) => void places(made, map, lines),
    }));
  if (cautionsRead()) rig.go.start();
  else rig.panel.show("cautions", ...cautions(() => {
    keepCautionsRead();
    rig.go.start();
  }));
}

/** This window only lights; the typing is done in another. */
function light() {
  const panel = makePanel(box);
  document.body.classList.add("projecting");
  document.title = "Crosses: grainfold";
  lendLamp(at("light"), canvas);
  addEventListener("keydown", (event) => {
    if (event.key === "f" || event.key === "F") fill();
  });
  panel.show("light", heading("The light for the calibration"), element("p", {}, "Bring this window to the projector and fill its screen. The typing is done in the other window."),
    element("div", { class: "actions" }, element("button", { class: "main", click: () => { fill(); panel.close(); } }, "Fill the screen")));
}

/** @param {string} id */
function at(id) {
  return /** @type {HTMLElement} */ (document.getElementById(id));
}
