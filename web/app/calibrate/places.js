// Where a map is good to cut by: drawn on the panel, and lit on the table when asked.

import { call } from "../api.js";
import { element, heading } from "../table/panel.js";
import { coverageDrawing } from "./coverage.js";
import { noRoom } from "./rig.js";

/** @typedef {import("./rig.js").Rig} Rig */

/** @param {Rig} rig @param {import("./rig.js").MapDetail} map @param {import("./rig.js").CheckLine[]} lines */
export async function places(rig, map, lines) {
  const still = rig.turn();
  /** @type {import("./coverage.js").Coverage} */
  let found;
  try {
    found = await call("GET", `/maps/${map.id}/coverage`);
  } catch (error) {
    if (still()) rig.go.verdict(map, lines, /** @type {Error} */ (error));
    return;
  }
  if (!still()) return;
  drawing();

  function drawing() {
    rig.open(drawing);
    if (!rig.holds(map)) return;
    rig.lamp.show({ kind: "dark" });
    rig.place(false);
    rig.panel.show("places",
      heading("Where it is good to cut by"),
      element("p", {}, found.words),
      coverageDrawing(found),
      element("p", { class: "soft" }, "The light from above, your side below. Heavy line: the rim of what is good to cut by. Dashed: lines of equal error. Slanted lines: farther than half the sheet's reach beyond it, or off by more than the limit; do not cut there. Dotted: where the sheet lay."),
      element("div", { class: "actions" },
        element("button", { class: "main", click: () => rig.go.verdict(map, lines) }, "Back"),
        element("button", { id: "light-coverage", click: lit }, "Light it on the table")));
  }

  function lit() {
    rig.open(lit);
    if (!rig.holds(map)) return;
    rig.lamp.show({ kind: "coverage", coverage: found, map });
    const [w, h] = map.canvas;
    const fits = rig.place(true, [0.02 * w, 0.02 * h, 0.3 * w, 0.3 * h]);
    rig.panel.show("places-lit", heading("Lit on the table"), ...(fits ? [] : [noRoom()]),
      element("div", { class: "actions" }, element("button", { class: "main", click: drawing }, "Back")));
  }
}
