// The verdict of a map: what was measured, how true it is, and what can be done about it.

import { call } from "../api.js";
import { element, heading } from "../table/panel.js";
import { clothPart } from "./cloth.js";
import { figures } from "./figures.js";
import { said } from "./rig.js";

/** @typedef {import("./rig.js").Rig} Rig */
/** @typedef {import("./rig.js").MapDetail} MapDetail */
/** @typedef {import("./rig.js").CheckLine} CheckLine */

/** @type {Readonly<Record<string, string>>} */
const TITLES = Object.freeze({ good: "Good to cut by", warn: "Cut nothing fitted by this", "not for cutting": "Not for cutting", unchecked: "Not checked yet" });

/**
 * @param {Rig} rig
 * @param {MapDetail} map
 * @param {CheckLine[]} lines
 * @param {import("./rig.js").Trouble | null} [trouble]
 */
export function verdict(rig, map, lines, trouble = null) {
  const still = rig.open(draw);
  const cloth = clothPart(rig, map, still);
  let drawn = false;
  draw();

  function draw() {
    if (!rig.holds(map)) return;
    const needed = lines.filter((l) => l.needed);
    const more = lines.filter((l) => !l.needed && !map.checks.some((c) => c.line === l.id));
    rig.lamp.show({ kind: "dark" });
    rig.place(false);
    // Drawn already: what is typed of the cloth and where the keys are stays.
    if (drawn && rig.panel.name === "verdict") return;
    drawn = true;
    rig.panel.show("verdict",
      heading(TITLES[map.verdict]),
      ...said(trouble),
      element("p", {}, map.verdict_text),
      element("ul", {}, ...map.checks.map((c) => element("li", {}, `${c.label}: ${c.words}`))),
      ...map.words.map((w) => element("p", { class: "soft" }, w)),
      element("dl", { class: "figures" }, ...figures(map).flatMap(([what, known]) => [element("dt", {}, what), element("dd", {}, known)])),
      ...(map.route === "camera" && !map.checks.some((c) => c.nominal_mm > 0) ? [element("p", {}, "A tape is the other witness: it knows nothing of camera and print. Measure the lit lines before cutting.")] : []),
      ...tiePart(),
      cloth,
      element("p", { class: "soft" }, "This holds for this picture size, zoom and screen, as long as projector and table stay where they are. Check again when either was touched."),
      element("div", { class: "actions" },
        ...(map.verdict === "unchecked" ? [element("button", { class: "main", click: () => rig.go.lines(map, lines, needed) }, "Measure the lines")] : []),
        ...(more.length ? [element("button", { click: () => rig.go.lines(map, lines, more) }, `Check ${more.length} more lines`)] : []),
        element("button", { class: map.verdict === "good" || map.verdict === "unchecked" ? "" : "main", click: () => rig.go.start() }, "Calibrate again"),
        element("button", { id: "board-again", click: () => rig.go.boardAgain(map) }, "Lay the board down again"),
        element("button", { id: "quick-look", click: () => rig.go.quickLook(map) }, map.marks_made ? "Look at the four marks" : "Make four marks for a quick look"),
        element("button", { id: "coverage", click: () => rig.go.places(map, lines) }, "Where it is good to cut by"),
        element("a", { class: map.verdict === "good" ? "button main" : "button", href: "/table" }, "To the table")));
  }

  /** The longest line that was measured can give the scale, where it was a little off. */
  function tiePart() {
    const far = map.checks.filter((c) => c.nominal_mm > 0 && Math.abs(c.measured_mm - c.nominal_mm) >= 0.1).sort((a, b) => b.nominal_mm - a.nominal_mm)[0];
    if (!far) return [];
    const { line, measured_mm } = far;
    return [element("p", {}, `Read the same twice? The scale can be taken from it. `,
      element("button", { id: "tie-scale", class: "small", click: (e) => { e.target.disabled = true; void tie({ line, measured: `${measured_mm} mm`, unit: "mm" }); } }, `Take the scale from ${far.label}`))];
  }

  /** Make another map of this one, and check that. @param {object} wish */
  async function tie(wish) {
    try {
      const made = /** @type {MapDetail} */ (await call("POST", `/maps/${map.id}/tied`, wish));
      rig.inUse = made;
      if (still()) rig.go.check(made);
    } catch (error) {
      if (still()) rig.go.verdict(map, lines, /** @type {Error} */ (error));
    }
  }
}
