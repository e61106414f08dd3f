/**
 * Rulers beside a layout: from the squared end, and from the edge that a tape can touch.
 */

/** @import {ClothResult} from "../wire.js" */
/** @import {System} from "../units.js" */
/** @import {View} from "./lines.js" */
/** @import {TemplateResult} from "../../vendor/lit-html/lit-html.js" */
import { svg } from "../../vendor/lit-html/lit-html.js";
import { roundStep } from "../geometry.js";
import { MM_PER, showFraction } from "../units.js";
import { r2 } from "./lines.js";
import { clothBox, physical, RULER_PX } from "./spread.js";

/** Rulers at the top (from the squared end) and at the left (from the real selvedge or the fold). @param {ClothResult} result @param {{view: View, width: number, height: number, system: System}} how */
export function rulers(result, how) {
  const { view, width, height, system } = how;
  const cloth = clothBox(result);
  // Across, zero is the edge that a tape can touch: the selvedge or the fold of the first zone.
  const zero = result.zones.length ? physical(result.zones[0], result).y0 : 0;
  const fromX = (RULER_PX - view.tx) / view.k;
  const toX = (width - view.tx) / view.k;
  const toY = (view.ty - RULER_PX) / view.k;
  const fromY = (view.ty - height) / view.k;
  const unit = system === "imperial" ? MM_PER.in : MM_PER.cm;
  const bases = system === "imperial" ? [1, 3, 6] : [1, 2, 5];
  const step = roundStep(width / view.k / unit, width / 62, bases) * unit;
  const fine = step / (system === "imperial" ? (step > 5 * unit ? 6 : 4) : step / unit === 2 ? 4 : 5);
  let top = "";
  let left = "";
  /** @type {TemplateResult<any>[]} */
  const figures = [];
  for (let i = Math.max(0, Math.ceil(fromX / fine)); i * fine <= Math.min(toX, cloth.x1) + 1e-6; i++) {
    const x = r2(view.tx + i * fine * view.k);
    const whole = isWhole((i * fine) / step);
    top += `M${x} ${RULER_PX}v${whole ? -11 : -5}`;
    if (whole) figures.push(svg`<text class="ruler-figure" x=${x} y=${RULER_PX - 14} text-anchor="middle">${rulerText((i * fine) / unit)}</text>`);
  }
  for (let i = Math.max(0, Math.ceil((fromY - zero) / fine)); i * fine + zero <= Math.min(toY, cloth.y1) + 1e-6; i++) {
    const y = r2(view.ty - (i * fine + zero) * view.k);
    const whole = isWhole((i * fine) / step);
    left += `M${RULER_PX} ${y}h${whole ? -8 : -4}`;
    if (whole) figures.push(svg`<text class="ruler-figure" x=${RULER_PX - 10} y=${y} dy="0.33em" text-anchor="end">${rulerText((i * fine) / unit)}</text>`);
  }
  return svg`<g class="rulers" aria-hidden="true">
    <rect class="ruler-ground" x="0" y="0" width=${width} height=${RULER_PX}></rect>
    <rect class="ruler-ground" x="0" y="0" width=${RULER_PX} height=${height}></rect>
    <path class="l ruler-ticks" d=${`${top}${left}M${RULER_PX} ${height}V${RULER_PX}H${width}`}></path>
    ${figures}
    <text class="ruler-figure" x="2" y="14">${system === "imperial" ? "in" : "cm"}</text>
  </g>`;
}

/** @param {number} v */
const isWhole = (v) => Math.abs(v - Math.round(v)) < 1e-6;
/** @param {number} v */
const rulerText = (v) => (isWhole(v) ? String(Math.round(v)) : showFraction(v));
