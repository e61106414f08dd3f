/**
 * What every drawing is made of: the view from mm to px, paths, grain arrows, hatching, notches, marks.
 *
 * Points come in mm, y up; here they are turned y down. Roles are told apart by dash and weight (see
 * style.css, .l-*) and by letter; colour only repeats what these say already.
 */

/** @import {XY} from "../wire.js" */
import { nothing, svg } from "../../vendor/lit-html/lit-html.js";
import { distance, simplify } from "../geometry.js";

/** Display outlines may leave the true ones by this much, mm. */
const DISPLAY_MM = 0.1;

/** @typedef {{k: number, tx: number, ty: number}} View px = (tx + k x, ty - k y) */

/** @param {View} view @param {XY} p @returns {XY} */
export const at = (view, p) => [view.tx + view.k * p[0], view.ty - view.k * p[1]];

/** @param {number} v */
export const r2 = (v) => Math.round(v * 100) / 100;

/**
 * Path data of points in the piece or cloth frame, through the view.
 * @param {readonly XY[]} points
 * @param {View} view
 * @param {boolean} [closed]
 */
export function pathData(points, view, closed = true) {
  if (points.length < 2) return "";
  const flat = closed
    ? simplify([...points, points[0]], DISPLAY_MM).slice(0, -1)
    : simplify(points, DISPLAY_MM);
  return `M${flat.map((p) => at(view, p).map(r2).join(" ")).join("L")}${closed ? "Z" : ""}`;
}

/** Path data kept per outline: outlines never change once received. @type {WeakMap<readonly XY[], {key: string, d: string}>} */
const kept = new WeakMap();

/** @param {readonly XY[]} points @param {View} view @param {boolean} [closed] */
export function path(points, view, closed = true) {
  const key = `${view.k} ${view.tx} ${view.ty} ${closed}`;
  const known = kept.get(points);
  if (known?.key === key) return known.d;
  const d = pathData(points, view, closed);
  kept.set(points, { key, d });
  return d;
}

/**
 * A grain line with its heads. `both` draws a head at either end.
 * @param {XY} tail px
 * @param {XY} head px
 * @param {boolean} both
 * @param {number} [size] px
 */
export function grainArrow(tail, head, both, size = 9) {
  const long = distance(tail, head);
  if (long < 2) return nothing;
  const [ux, uy] = [(head[0] - tail[0]) / long, (head[1] - tail[1]) / long];
  /** @param {XY} tip @param {number} way */
  const tipPath = (tip, way) => {
    const [bx, by] = [tip[0] - way * ux * size, tip[1] - way * uy * size];
    const w = size * 0.36;
    return `M${r2(tip[0])} ${r2(tip[1])}L${r2(bx - uy * w)} ${r2(by + ux * w)}L${r2(bx + uy * w)} ${r2(by - ux * w)}Z`;
  };
  return svg`<path class="l l-grain" d=${`M${tail.map(r2).join(" ")}L${head.map(r2).join(" ")}`}></path>
    <path class="l-head" d=${tipPath(head, 1) + (both ? tipPath(tail, -1) : "")}></path>`;
}

/** Short oblique strokes along a line, on its left-hand side (px): "do not cut here". @param {readonly XY[]} line px @param {number} [gap] */
export function hatch(line, gap = 9) {
  let d = "";
  for (let i = 1; i < line.length; i++) {
    const [a, b] = [line[i - 1], line[i]];
    const long = distance(a, b);
    if (!long) continue;
    const [ux, uy] = [(b[0] - a[0]) / long, (b[1] - a[1]) / long];
    for (let s = gap / 2; s < long; s += gap) {
      const [x, y] = [a[0] + ux * s, a[1] + uy * s];
      d += `M${r2(x)} ${r2(y)}l${r2(uy * 7 - ux * 5)} ${r2(-ux * 7 - uy * 5)}`;
    }
  }
  return svg`<path class="l l-hatch" d=${d}></path>`;
}

/** @param {{at: XY, tip: XY, marks: number}} notch @param {View} view */
export function notchMark(notch, view) {
  const [a, t] = [at(view, notch.at), at(view, notch.tip)];
  const long = distance(a, t) || 1;
  const [ux, uy] = [(t[0] - a[0]) / long, (t[1] - a[1]) / long];
  const reach = Math.max(long, 6);
  let d = "";
  for (let i = 0; i < notch.marks; i++) {
    const off = (i - (notch.marks - 1) / 2) * 4;
    d += `M${r2(a[0] - uy * off)} ${r2(a[1] + ux * off)}l${r2(ux * reach)} ${r2(uy * reach)}`;
  }
  return svg`<path class="l l-notch" d=${d}></path>`;
}

/** @param {{kind: string, points: XY[]}} mark @param {View} view */
export function markDrawing(mark, view) {
  if (mark.points.length > 1) {
    return svg`<path class=${mark.kind === "inlay" ? "l l-inlay" : "l l-mark"} d=${pathData(mark.points, view, false)}></path>`;
  }
  const [x, y] = at(view, mark.points[0]).map(r2);
  return mark.kind === "drill"
    ? svg`<circle class="l l-mark" cx=${x} cy=${y} r="3"></circle>`
    : svg`<path class="l l-mark" d=${`M${x - 4} ${y}h8M${x} ${y - 4}v8`}></path>`;
}

/** A fold with its hatch outside. The outside lies on the left of the way along. @param {XY[]} line px */
export const foldLine = (line) =>
  svg`${hatch(line, 10)}<path class="l l-fold" d=${`M${line.map((p) => p.map(r2).join(" ")).join("L")}`}></path>`;
