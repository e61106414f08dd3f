/**
 * What the cloth lacks, drawn: a flaw crossed out with its word, missing cloth hatched.
 */

/** @import {XY} from "../wire.js" */
/** @import {View} from "./lines.js" */
import { nothing, svg } from "../../vendor/lit-html/lit-html.js";
import { bounds } from "../geometry.js";
import { at, path, r2 } from "./lines.js";

/** Width of a letter of the note, px, and between lines of the hatching, px. */
const LETTER_PX = 7.6;
const HATCH_PX = 11;

/**
 * @param {{kind: "flaw" | "missing", name?: string, outline: XY[]}} lack
 * @param {View} view
 */
export function lackDrawing(lack, view) {
  const { x0, x1, y0, y1 } = bounds(lack.outline);
  const [px0, py1] = at(view, [x0, y1]);
  const [px1, py0] = at(view, [x1, y0]);
  const flaw = lack.kind === "flaw";
  const said = flaw ? lack.name || "flaw" : "no cloth";
  const inside = px1 - px0 > said.length * LETTER_PX + 8 && py0 - py1 > 18;
  const lines = flaw
    ? `M${r2(px0)} ${r2(py0)}L${r2(px1)} ${r2(py1)}M${r2(px0)} ${r2(py1)}L${r2(px1)} ${r2(py0)}`
    : hatching(lack.outline.map((p) => at(view, p)), HATCH_PX);
  // The note of a narrow flaw stands beside it, that of narrow missing cloth is left to the hatching.
  const note = inside
    ? svg`<text class="lack-note" x=${r2((px0 + px1) / 2)} y=${r2((py0 + py1) / 2)} dy="0.35em" text-anchor="middle">${said}</text>`
    : flaw
      ? svg`<text class="lack-note" x=${r2(px1 + 4)} y=${r2((py0 + py1) / 2)} dy="0.35em">${said}</text>`
      : nothing;
  return svg`<g class=${flaw ? "lack flaw" : "lack missing"}>
    <path class="lack-ground" d=${path(lack.outline, view)}></path>
    <path class="l lack-lines" d=${lines}></path>
    <path class="l lack-edge" d=${path(lack.outline, view)}></path>
    ${note}
  </g>`;
}

/** Slanted lines through a convex outline, px. @param {XY[]} outline @param {number} step */
function hatching(outline, step) {
  const feet = outline.map(([x, y]) => x + y);
  let d = "";
  for (let foot = Math.ceil(Math.min(...feet) / step) * step; foot < Math.max(...feet); foot += step) {
    /** @type {string[]} */
    const ends = [];
    for (let i = 0; i < outline.length; i++) {
      const j = (i + 1) % outline.length;
      const [a, b] = [feet[i] - foot, feet[j] - foot];
      if (a * b >= 0) continue;
      const t = a / (a - b);
      ends.push(`${r2(outline[i][0] + (outline[j][0] - outline[i][0]) * t)} ${r2(outline[i][1] + (outline[j][1] - outline[i][1]) * t)}`);
    }
    if (ends.length === 2) d += `M${ends[0]}L${ends[1]}`;
  }
  return d;
}
