/**
 * Length against time: how a search came down, and the floor under it.
 */

/** @import {ClothResult} from "../wire.js" */
/** @import {System} from "../units.js" */
import { html, nothing, svg } from "../../vendor/lit-html/lit-html.js";
import { roundStep } from "../geometry.js";
import { staircase } from "../state.js";
import { showClothLength } from "../units.js";
import { r2 } from "./lines.js";

/**
 * The curve of length against time, with the floor.
 * @param {ClothResult} result
 * @param {object} how
 * @param {number} how.width px
 * @param {number} how.height px
 * @param {System} how.system
 * @param {number} how.until seconds at the right end
 * @param {(text: string) => string} [how.say]
 */
export function curve(result, how) {
  const { width, height, system } = how;
  const pad = { l: 62, r: 14, t: 12, b: 28 };
  const history = result.history;
  if (!history.length) return nothing;
  const until = Math.max(how.until, history[history.length - 1].seconds, 0.1);
  const most = Math.max(...history.map((m) => m.length_mm));
  const low = Math.min(result.floor_mm, ...history.map((m) => m.length_mm));
  const room = Math.max(most - low, most * 0.01);
  const [y0, y1] = [low - room * 0.12, most + room * 0.08];
  /** @param {number} s */
  const X = (s) => r2(pad.l + (s / until) * (width - pad.l - pad.r));
  /** @param {number} mm */
  const Y = (mm) => r2(height - pad.b - ((mm - y0) / (y1 - y0)) * (height - pad.t - pad.b));
  const corners = staircase(history, until);
  const last = corners[corners.length - 1];
  const step = roundStep(until, 5);
  const ticks = [];
  for (let s = 0; s <= until + 1e-9; s += step) ticks.push(s);
  const first = history[0].length_mm;
  const showFirst = Math.abs(Y(first) - Y(last[1])) > 18;
  const showFloor = Math.abs(Y(result.floor_mm) - Y(last[1])) > 16;
  const label = `Length against time: from ${showClothLength(first, system)} to ${showClothLength(last[1], system)} in ${until.toFixed(0)} seconds; the floor is ${showClothLength(result.floor_mm, system)}.`;
  return html`<svg class="curve" width=${width} height=${height} viewBox=${`0 0 ${width} ${height}`} role="img" aria-label=${label}>
    <path class="l axis" d=${`M${pad.l} ${pad.t}V${height - pad.b}H${width - pad.r}`}></path>
    <path class="l axis" d=${ticks.map((s) => `M${X(s)} ${height - pad.b}v5`).join("")}></path>
    ${ticks.map((s) => svg`<text class="curve-figure" x=${X(s)} y=${height - 8} text-anchor="middle">${Number(s.toFixed(2))} s</text>`)}
    <path class="l curve-floor" d=${`M${pad.l} ${Y(result.floor_mm)}H${width - pad.r}`}></path>
    <path class="l curve-line" d=${`M${corners.map(([s, mm]) => `${X(s)} ${Y(mm)}`).join("L")}`}></path>
    <circle class="curve-now" cx=${X(last[0])} cy=${Y(last[1])} r="3.5"></circle>
    ${showFirst ? svg`<text class="curve-figure" x=${pad.l - 8} y=${Y(first)} dy="0.33em" text-anchor="end">${showClothLength(first, system)}</text>` : nothing}
    <text class="curve-figure strong" x=${pad.l - 8} y=${Y(last[1])} dy="0.33em" text-anchor="end">${showClothLength(last[1], system)}</text>
    ${showFloor ? svg`<text class="curve-figure" x=${pad.l - 8} y=${Y(result.floor_mm)} dy="0.33em" text-anchor="end">${showClothLength(result.floor_mm, system)}</text>` : nothing}
    <text class="curve-figure" x=${width - pad.r} y=${Y(result.floor_mm) - 6} text-anchor="end">floor</text>
  </svg>`;
}
