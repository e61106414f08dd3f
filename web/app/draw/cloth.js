/**
 * The cloth as it is bought, seen from above.
 */

/** @import {System} from "../units.js" */
/** @import {ClothChoice} from "../state.js" */
/** @import {View} from "./lines.js" */
import { html, nothing, svg } from "../../vendor/lit-html/lit-html.js";
import { lacksFromAbove, offCentreDepth } from "../lacks.js";
import { usableWidth } from "../state.js";
import { showBlank, showLength } from "../units.js";
import { lackDrawing } from "./lacks.js";
import { at, foldLine, grainArrow, r2 } from "./lines.js";

/**
 * A stretch of the cloth seen from above, as the sentence describes it: width, selvedges, fold, nap, repeat.
 * @param {ClothChoice} cloth
 * @param {{width: number, height: number, system: System, say: (text: string) => string}} how
 */
export function clothDrawing(cloth, how) {
  const { width, height, system, say } = how;
  const full = cloth.measured_width_mm ?? cloth.width_mm;
  const usable = Math.max(0, usableWidth(cloth));
  const s = cloth.selvedge_mm;
  const lacks = lacksFromAbove(cloth);
  const far = Math.max(0, ...lacks.flatMap((l) => l.outline.map((p) => p[0])), lacks.length ? (cloth.available_mm ?? 0) : 0);
  const long = Math.max(full * 1.15, 3 * cloth.repeat_along_mm, 400, far * 1.06);
  const depth = foldDepth(cloth, usable);
  const shown = depth.whole;
  const k = Math.min((width - 100) / long, (height - 76) / Math.max(full, 1));
  /** @type {View} */
  const view = { k, tx: 64, ty: height - 40 - ((full - shown) * k) / 2 };
  const [x0, yLow] = at(view, [0, 0]);
  const [x1, yHigh] = at(view, [long, shown]);
  /** @type {string[]} */
  const stripes = [];
  if (cloth.repeat_along_mm > 0) for (let x = cloth.repeat_along_mm; x < long; x += cloth.repeat_along_mm) stripes.push(`M${r2(view.tx + x * k)} ${r2(yLow)}V${r2(yHigh)}`);
  if (cloth.repeat_across_mm > 0) for (let y = cloth.repeat_across_mm; y < shown; y += cloth.repeat_across_mm) stripes.push(`M${r2(x0)} ${r2(view.ty - y * k)}H${r2(x1)}`);
  const ownEnd = cloth.available_mm !== null && cloth.available_mm < long ? view.tx + cloth.available_mm * k : null;
  return html`<svg class="cloth-drawing" width=${width} height=${height} viewBox=${`0 0 ${width} ${height}`} role="img" aria-label=${say(clothLabel(cloth, system))}>
    <rect class=${depth.plies > 1 ? "ground two" : "ground"} x=${r2(x0)} y=${r2(yHigh)} width=${r2(x1 - x0)} height=${r2(yLow - yHigh)}></rect>
    ${depth.oneFrom !== null ? svg`<rect class="ground" x=${r2(x0)} y=${r2(yHigh)} width=${r2(x1 - x0)} height=${r2(Math.max(0, view.ty - depth.oneFrom * k - yHigh))}></rect><path class="l between-zones" d=${`M${r2(x0)} ${r2(view.ty - depth.oneFrom * k)}H${r2(x1)}`}></path>` : nothing}
    ${stripes.length ? svg`<path class="l repeat" d=${stripes.join("")}></path>` : nothing}
    ${depth.selvedges.map((y) => svg`<rect class="selvedge" x=${r2(x0)} y=${r2(view.ty - (y + s) * k)} width=${r2(x1 - x0)} height=${r2(Math.max(1, s * k))}></rect>`)}
    <path class="l squared" d=${`M${r2(x0)} ${r2(yLow)}V${r2(yHigh)}`}></path>
    <path class="l torn" d=${torn(x1, yLow, yHigh)}></path>
    <path class="l selvedge-edge" d=${depth.edges.map((y) => `M${r2(x0)} ${r2(view.ty - y * k)}H${r2(x1)}`).join("")}></path>
    ${depth.folds.map((f) => foldLine(f === "x0" ? [[x0, yLow], [x0, yHigh]] : f === "low" ? [[x1, yLow], [x0, yLow]] : [[x0, yHigh], [x1, yHigh]]))}
    ${lacks.map((l) => lackDrawing(l, view))}
    ${cloth.nap ? napArrows(x0, x1, yLow, yHigh) : nothing}
    ${ownEnd !== null ? svg`<path class="l own-end" d=${`M${r2(ownEnd)} ${r2(yLow)}V${r2(yHigh)}`}></path><text class="cloth-note" x=${r2(ownEnd - 6)} y=${r2(yLow - 8)} text-anchor="end">${showLength(cloth.available_mm ?? 0, system)}</text>` : nothing}
    <path class="l ruler-ticks" d=${`M${r2(x0 - 12)} ${r2(yLow)}V${r2(yHigh)}m-5 0h10M${r2(x0 - 17)} ${r2(yLow)}h10`}></path>
    <text class="cloth-note" x=${r2(x0 - 20)} y=${r2((yLow + yHigh) / 2)} text-anchor="middle" transform=${`rotate(-90 ${r2(x0 - 20)} ${r2((yLow + yHigh) / 2)})`}>${cloth.fold === "off-centre" ? "" : `${showBlank(shown, system)}${depth.plies > 1 ? " as folded" : ""}`}</text>
    ${cloth.fold === "best" || cloth.fold === "off-centre"
      ? svg`<text class="cloth-note" x=${r2(x0)} y=${r2(yHigh - 10)}>${cloth.fold === "best" ? "the search finds the fold" : "the search finds how deep"}</text>`
      : nothing}
    <text class="cloth-note" x=${r2(x0)} y=${r2(yLow + 30)}>${say(`usable width ${showLength(usable, system)}`)}</text>
  </svg>`;
}

/**
 * What the folded cloth looks like from above, mm across from the lower edge.
 * @param {ClothChoice} cloth
 * @param {number} usable
 * @returns {{whole: number, plies: number, oneFrom: number | null, selvedges: number[], edges: number[], folds: ("low" | "high" | "x0")[]}}
 */
function foldDepth(cloth, usable) {
  const s = cloth.selvedge_mm;
  const full = usable + 2 * s;
  switch (cloth.fold) {
    case "lengthwise":
      return { whole: usable / 2 + s, plies: 2, oneFrom: null, selvedges: [usable / 2], edges: [usable / 2 + s], folds: ["low"] };
    case "off-centre": {
      const d = offCentreDepth(cloth);
      return { whole: usable - d + s, plies: 2, oneFrom: d, selvedges: [usable - d], edges: [usable - d + s], folds: ["low"] };
    }
    case "double":
      return { whole: usable / 2, plies: 2, oneFrom: null, selvedges: [], edges: [usable / 4], folds: ["low", "high"] };
    case "crosswise":
      return { whole: full, plies: 2, oneFrom: null, selvedges: [0, usable + s], edges: [0, full], folds: ["x0"] };
    default:
      return { whole: full, plies: 1, oneFrom: null, selvedges: [0, usable + s], edges: [0, full], folds: [] };
  }
}

/** The cloth goes on: a broken end. @param {number} x @param {number} low @param {number} high */
function torn(x, low, high) {
  let d = `M${r2(x)} ${r2(low)}`;
  const n = Math.max(4, Math.round((low - high) / 14));
  for (let i = 1; i <= n; i++) d += `L${r2(x + (i % 2 ? 4 : -4) * (i === n ? 0 : 1))} ${r2(low - ((low - high) * i) / n)}`;
  return d;
}

/** @param {number} x0 @param {number} x1 @param {number} low @param {number} high */
function napArrows(x0, x1, low, high) {
  return [0.25, 0.5, 0.75].map((t) => {
    const y = low + (high - low) * t;
    return grainArrow([x0 + (x1 - x0) * 0.3, y], [x0 + (x1 - x0) * 0.62, y], false, 12);
  });
}

/** @param {ClothChoice} cloth @param {System} system */
function clothLabel(cloth, system) {
  const width = showBlank(cloth.measured_width_mm ?? cloth.width_mm, system);
  return `The cloth from above: ${width} wide, fold: ${cloth.fold}, ${cloth.nap ? "one way" : "either way"}, usable width ${showLength(Math.max(0, usableWidth(cloth)), system)}${cloth.flaws.length ? `, flaws: ${cloth.flaws.length}` : ""}${cloth.available_mm !== null && cloth.missing.length ? `, missing parts: ${cloth.missing.length}` : ""}.`;
}
