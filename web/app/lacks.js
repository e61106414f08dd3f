/**
 * What a cloth lacks as it is typed: flaws, parts cut out, a slanted end; and how that looks from above
 * once the cloth is folded. Pure.
 */

/** @import {XY} from "./wire.js" */
/** @import {ClothChoice, SpotChoice} from "./state.js" */
import { halfPlane } from "./geometry.js";
import { usableWidth } from "./state.js";

/** A flaw before it is measured: a hand wide, near the beginning. @returns {SpotChoice} */
export const newFlaw = () => ({ along_from_mm: 800, along_to_mm: 900, across_from_mm: 0, across_to_mm: null, margin_mm: 10 });

/** A part cut out before, until it is measured. @returns {SpotChoice} */
export const newMissing = () => ({ along_from_mm: 0, along_to_mm: 300, across_from_mm: 0, across_to_mm: 300, margin_mm: 0 });

/**
 * What a cloth lacks, as it is seen from above in its fold: once for each ply, as convex outlines. x
 * from the raw end, y from the lower edge of the folded cloth (a selvedge's outer edge or a fold), mm
 * as bought.
 * @param {ClothChoice} cloth
 * @returns {{kind: "flaw" | "missing", outline: XY[]}[]}
 */
export function lacksFromAbove(cloth) {
  const full = cloth.measured_width_mm ?? cloth.width_mm;
  /** @type {{kind: "flaw" | "missing", outline: XY[]}[]} */
  const flat = [];
  /** @param {"flaw" | "missing"} kind @param {SpotChoice} s */
  const add = (kind, s) => {
    const m = s.margin_mm;
    const [x0, x1, y0, y1] = [s.along_from_mm - m, s.along_to_mm + m, s.across_from_mm - m, (s.across_to_mm ?? full) + m];
    flat.push({ kind, outline: [[x0, y0], [x1, y0], [x1, y1], [x0, y1]] });
  };
  for (const s of cloth.flaws) add("flaw", s);
  const { available_mm: near, far_length_mm: far } = cloth;
  if (near !== null) {
    for (const s of cloth.missing) add("missing", s);
    if (far !== null && far !== near) flat.push({ kind: "missing", outline: [[near, 0], [far, full], near > far ? [near, full] : [far, 0]] });
  }
  return flat.flatMap(({ kind, outline }) =>
    pliesFromAbove(cloth, full).flatMap(([scale, shift, low, high]) => {
      const seen = within(outline.map(([x, y]) => /** @type {XY} */ ([x, scale * y + shift])), low, high);
      return seen.length > 2 ? [{ kind, outline: seen }] : [];
    }),
  );
}

/** Each ply's height from its place across the opened cloth (scale, shift), and the band it is seen in. @param {ClothChoice} cloth @param {number} full @returns {[number, number, number, number][]} */
function pliesFromAbove(cloth, full) {
  const [half, quarter] = [full / 2, full / 4];
  const depth = offCentreDepth(cloth) + cloth.selvedge_mm;
  switch (cloth.fold) {
    case "lengthwise": return [[1, -half, 0, half], [-1, half, 0, half]];
    case "off-centre": return [[1, -depth, 0, full - depth], [-1, depth, 0, depth]];
    case "double": return [[1, -quarter, 0, quarter], [-1, quarter, 0, quarter], [1, -quarter, quarter, half], [-1, 5 * quarter, quarter, half]];
    default: return [[1, 0, 0, full]];
  }
}

/** How deep an off-centre fold is drawn before the search has found it, mm of usable width. @param {ClothChoice} cloth */
export const offCentreDepth = (cloth) => Math.max(0, usableWidth(cloth)) * 0.34;

/** The part of a convex outline between two heights. @param {XY[]} outline @param {number} low @param {number} high @returns {XY[]} */
function within(outline, low, high) {
  return halfPlane(halfPlane(outline, 1, low, 1), 1, high, -1);
}
