/**
 * The cloth as spread: zones, selvedges, folds, the print's repeat, and the view that shows it all.
 */

/** @import {ClothResult, Zone} from "../wire.js" */
/** @import {Box} from "../geometry.js" */
/** @import {View} from "./lines.js" */
import { nothing, svg } from "../../vendor/lit-html/lit-html.js";
import { around } from "../geometry.js";
import { at, foldLine, r2 } from "./lines.js";

/** Room for the rulers, px. */
export const RULER_PX = 34;
/** Between ruler and cloth, and outside the cloth for the hatching of a fold, px. */
const GAP_PX = 4;
/** All that is not cloth along one side of the board, px. */
export const MARGIN_PX = RULER_PX + GAP_PX + 24;

/** The physical cloth round a layout, cloth frame, mm. @param {ClothResult} result @returns {Box} */
export function clothBox(result) {
  const boxes = result.zones.map((z) => physical(z, result));
  const box = boxes.length ? around(boxes) : { x0: 0, x1: result.length_mm, y0: 0, y1: result.usable_width_mm };
  return { ...box, x0: Math.min(box.x0, -result.end_allowance_mm) };
}

/** A zone with the selvedge bands and ends that belong to it. @param {Zone} zone @param {ClothResult} result @returns {Box} */
export function physical(zone, result) {
  const s = result.selvedge_mm;
  const e = result.end_allowance_mm;
  const used = usedEnd(zone, result);
  const last = result.zones.every((z) => z.x1 <= zone.x1);
  return {
    x0: zone.x0 <= 0 && !zone.fold_edges.includes("x0") ? zone.x0 - e : zone.x0,
    x1: last ? Math.max(used, remnantEnd(result)) + e : used,
    y0: zone.fold_edges.includes("y0") ? zone.y0 : zone.y0 - (neighbour(zone, result, "y0") ? 0 : s),
    y1: zone.fold_edges.includes("y1") ? zone.y1 : zone.y1 + (neighbour(zone, result, "y1") ? 0 : s),
  };
}

/** A remnant is drawn to its own end, so that its outline can be told: the longer selvedge's. @param {ClothResult} result */
function remnantEnd(result) {
  if (!result.lacks?.length || result.room_mm === null || result.room_mm === undefined) return 0;
  return Math.max(result.room_mm, result.far_room_mm ?? 0);
}

/** Where the drawn cloth of a zone ends: the last zone may be longer than what is used. @param {Zone} zone @param {ClothResult} result */
export function usedEnd(zone, result) {
  const last = result.zones.every((z) => z.x1 <= zone.x1);
  return last ? Math.max(zone.x0, Math.min(zone.x1, result.length_mm)) : zone.x1;
}

/** Whether another zone lies against that side. @param {Zone} zone @param {ClothResult} result @param {"y0" | "y1"} side */
function neighbour(zone, result, side) {
  return result.zones.some(
    (z) => z !== zone && z.x0 < zone.x1 && zone.x0 < z.x1 &&
      Math.abs(side === "y1" ? z.y0 - zone.y1 : z.y1 - zone.y0) < 1e-6,
  );
}

/** The view that shows a box in so many px. @param {Box} box @param {number} width @param {number} height @returns {View} */
export function fitView(box, width, height) {
  const k = Math.min((width - MARGIN_PX) / (box.x1 - box.x0 || 1), (height - MARGIN_PX) / (box.y1 - box.y0 || 1));
  return { k, tx: RULER_PX + GAP_PX - box.x0 * k, ty: RULER_PX + GAP_PX + box.y1 * k };
}

/** The cloth under the pieces: ground, selvedge bands, fold, squared ends. @param {Zone} zone @param {ClothResult} result @param {View} view @param {(t: string) => string} say */
export function zoneDrawing(zone, result, view, say) {
  const box = physical(zone, result);
  const [x0, y1] = at(view, [box.x0, box.y1]);
  const [x1, y0] = at(view, [box.x1, box.y0]);
  const end = usedEnd(zone, result);
  const [ix0, iy1] = at(view, [zone.x0, zone.y1]);
  const ix1 = at(view, [end, zone.y0])[0];
  /** @param {number} y @param {number} edge */
  const band = (y, edge) =>
    Math.abs(y - edge) < 1e-9
      ? nothing
      : svg`<rect class="selvedge" x=${r2(x0)} y=${r2(Math.min(at(view, [0, y])[1], at(view, [0, edge])[1]))} width=${r2(x1 - x0)} height=${r2(Math.abs(y - edge) * view.k)}></rect>
          <path class="l selvedge-edge" d=${`M${r2(x0)} ${r2(at(view, [0, edge])[1])}H${r2(x1)}`}></path>`;
  return svg`<g class="zone">
    <rect class=${zone.plies > 1 ? "ground two" : "ground"} x=${r2(x0)} y=${r2(y1)} width=${r2(Math.max(0, x1 - x0))} height=${r2(y0 - y1)}></rect>
    ${band(zone.y0, box.y0)}${band(zone.y1, box.y1)}
    <path class="l squared" d=${`M${r2(ix0)} ${r2(y1)}V${r2(y0)}M${r2(ix1)} ${r2(y1)}V${r2(y0)}`}></path>
    ${!zone.fold_edges.includes("y1") && neighbour(zone, result, "y1")
      ? svg`<path class="l between-zones" d=${`M${r2(ix0)} ${r2(iy1)}H${r2(ix1)}`}></path>`
      : nothing}
    ${zoneNote(zone, result, view, say)}
  </g>`;
}

/** The print's repeat as thin lines on the cloth, counted from the squared end and the zone's lower edge. @param {Zone} zone @param {ClothResult} result @param {View} view @param {{along: number, across: number}} repeat */
export function repeatLines(zone, result, view, repeat) {
  const end = usedEnd(zone, result);
  let d = "";
  if (repeat.along > 0 && repeat.along * view.k > 3) {
    for (let i = Math.ceil(zone.x0 / repeat.along); i * repeat.along <= end; i++) {
      const [x, y] = at(view, [i * repeat.along, zone.y0]);
      d += `M${r2(x)} ${r2(y)}V${r2(at(view, [0, zone.y1])[1])}`;
    }
  }
  if (repeat.across > 0 && repeat.across * view.k > 3) {
    for (let i = Math.ceil(zone.y0 / repeat.across); i * repeat.across <= zone.y1; i++) {
      const [x, y] = at(view, [zone.x0, i * repeat.across]);
      d += `M${r2(x)} ${r2(y)}H${r2(at(view, [end, 0])[0])}`;
    }
  }
  return d ? svg`<path class="l repeat" d=${d}></path>` : nothing;
}

/** The folds of a zone, over the pieces that lie on them. @param {Zone} zone @param {ClothResult} result @param {View} view */
export function zoneFolds(zone, result, view) {
  const end = usedEnd(zone, result);
  const [ix0, iy1] = at(view, [zone.x0, zone.y1]);
  const [ix1, iy0] = at(view, [end, zone.y0]);
  return svg`<g class="folds">
    ${zone.fold_edges.includes("y0") ? foldLine([[ix1, iy0], [ix0, iy0]]) : nothing}
    ${zone.fold_edges.includes("y1") ? foldLine([[ix0, iy1], [ix1, iy1]]) : nothing}
    ${zone.fold_edges.includes("x0") ? foldLine([[ix0, iy0], [ix0, iy1]]) : nothing}
  </g>`;
}

/** How the cloth lies in a zone: under it, else over it, else inside its upper edge. @param {Zone} zone @param {ClothResult} result @param {View} view @param {(t: string) => string} say */
function zoneNote(zone, result, view, say) {
  const all = around(result.zones.map((z) => physical(z, result)));
  const box = physical(zone, result);
  const text = say(zone.plies > 1 ? "two plies, right sides together" : "one ply, right side up");
  const [x, over] = at(view, [zone.x0, box.y1]);
  const under = at(view, [0, box.y0])[1];
  if ((usedEnd(zone, result) - zone.x0) * view.k < text.length * 5.4) return nothing;
  const y =
    (box.y0 - all.y0) * view.k < 6 ? under + 19
    : (all.y1 - box.y1) * view.k > 24 && !neighbour(zone, result, "y1") ? over - 7
    : over + 15;
  return svg`<text class="zone-note" x=${r2(x)} y=${r2(y)}>${text}</text>`;
}
