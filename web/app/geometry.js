/**
 * Plane geometry for drawing and picking: pure functions on lists of points, y up, mm.
 */

/** @import {XY} from "./wire.js" */
/** @typedef {{x0: number, y0: number, x1: number, y1: number}} Box */

/**
 * The smallest box round all points; an empty list gives a box of no size at the origin.
 * @param {readonly XY[]} points
 * @returns {Box}
 */
export function bounds(points) {
  if (!points.length) return { x0: 0, y0: 0, x1: 0, y1: 0 };
  let [x0, y0, x1, y1] = [Infinity, Infinity, -Infinity, -Infinity];
  for (const [x, y] of points) {
    if (x < x0) x0 = x;
    if (x > x1) x1 = x;
    if (y < y0) y0 = y;
    if (y > y1) y1 = y;
  }
  return { x0, y0, x1, y1 };
}

/** @param {Box} box @param {number} by @returns {Box} */
export const grown = (box, by) => ({ x0: box.x0 - by, y0: box.y0 - by, x1: box.x1 + by, y1: box.y1 + by });

/** @param {readonly Box[]} boxes @returns {Box} */
export const around = (boxes) => bounds(boxes.flatMap((b) => /** @type {XY[]} */ ([[b.x0, b.y0], [b.x1, b.y1]])));

/** Length along the points, mm. @param {readonly XY[]} points */
export function pathLength(points) {
  let sum = 0;
  for (let i = 1; i < points.length; i++) sum += distance(points[i - 1], points[i]);
  return sum;
}

/** @param {XY} a @param {XY} b */
export const distance = (a, b) => Math.hypot(b[0] - a[0], b[1] - a[1]);

/** @param {XY} a @param {XY} b @param {number} t @returns {XY} */
export const between = (a, b, t) => [a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t];

/**
 * The point half way along a line.
 * @param {readonly XY[]} points at least one
 * @returns {XY}
 */
export function midpoint(points) {
  let left = pathLength(points) / 2;
  for (let i = 1; i < points.length; i++) {
    const step = distance(points[i - 1], points[i]);
    if (step >= left && step > 0) return between(points[i - 1], points[i], left / step);
    left -= step;
  }
  return points[points.length - 1];
}

/**
 * The point so far along a line of points; beyond its ends, the end.
 * @param {readonly XY[]} points at least one
 * @param {number} mm
 * @returns {XY}
 */
export function pointAlong(points, mm) {
  let left = Math.max(0, mm);
  for (let i = 1; i < points.length; i++) {
    const step = distance(points[i - 1], points[i]);
    if (step >= left && step > 0) return between(points[i - 1], points[i], left / step);
    left -= step;
  }
  return points[points.length - 1];
}

/**
 * Where a line of points comes nearest to a point: how far along it, and how far off.
 * @param {XY} p
 * @param {readonly XY[]} line at least two
 * @returns {{mm: number, off: number}}
 */
export function nearestAlong(p, line) {
  let [best, mm, before] = [Infinity, 0, 0];
  for (let i = 1; i < line.length; i++) {
    const [a, b] = [line[i - 1], line[i]];
    const step = distance(a, b);
    const t = step ? Math.max(0, Math.min(1, ((p[0] - a[0]) * (b[0] - a[0]) + (p[1] - a[1]) * (b[1] - a[1])) / (step * step))) : 0;
    const off = distance(p, between(a, b, t));
    if (off < best) [best, mm] = [off, before + t * step];
    before += step;
  }
  return { mm, off: best };
}

/**
 * Distance from a point to a line of points, mm.
 * @param {XY} p
 * @param {readonly XY[]} line
 */
export function distanceToLine(p, line) {
  let best = line.length === 1 ? distance(p, line[0]) : Infinity;
  for (let i = 1; i < line.length; i++) {
    const [a, b] = [line[i - 1], line[i]];
    const [dx, dy] = [b[0] - a[0], b[1] - a[1]];
    const long = dx * dx + dy * dy;
    const t = long ? Math.max(0, Math.min(1, ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / long)) : 0;
    best = Math.min(best, distance(p, [a[0] + t * dx, a[1] + t * dy]));
  }
  return best;
}

/**
 * Whether a point lies inside a closed outline (even-odd rule).
 * @param {XY} p
 * @param {readonly XY[]} outline
 */
export function inside(p, outline) {
  let odd = false;
  for (let i = 0, j = outline.length - 1; i < outline.length; j = i++) {
    const [xi, yi] = outline[i];
    const [xj, yj] = outline[j];
    if (yi > p[1] !== yj > p[1] && p[0] < ((xj - xi) * (p[1] - yi)) / (yj - yi) + xi) odd = !odd;
  }
  return odd;
}

/**
 * Where a name may stand largest inside an outline, along x or (upright) along y.
 * Every point of a grid is tried; at each the way to the outline on both sides bounds the name's length,
 * the way across bounds its height.
 * @param {readonly XY[]} outline closed, first not repeated
 * @param {number} ratio length of the name divided by its height
 * @returns {{at: XY, size: number, upright: boolean, wide: number, tall: number}} size is the name's
 *     height; wide and tall are the free ways through the place; all in the outline's unit
 */
export function namePlace(outline, ratio) {
  const box = bounds(outline);
  /** @type {ReturnType<typeof namePlace>} */
  let best = { at: [(box.x0 + box.x1) / 2, (box.y0 + box.y1) / 2], size: 0, upright: false, wide: 0, tall: 0 };
  let bestScore = 0;
  const [nx, ny] = [17, 17];
  for (let i = 0; i < nx; i++) {
    for (let j = 0; j < ny; j++) {
      /** @type {XY} */
      const p = [box.x0 + ((i + 0.5) / nx) * (box.x1 - box.x0), box.y0 + ((j + 0.5) / ny) * (box.y1 - box.y0)];
      if (!inside(p, outline)) continue;
      const [wide, tall] = [freeWay(p, outline, 0), freeWay(p, outline, 1)];
      for (const upright of [false, true]) {
        const [along, across] = upright ? [tall, wide] : [wide, tall];
        const size = Math.min(along / ratio, across * ACROSS);
        // Upright names are harder to read: they have to be clearly larger. Ties go to the roomier place.
        const score = size * (upright ? 0.8 : 1) + (along + across) * 1e-3;
        if (score > bestScore) [best, bestScore] = [{ at: p, size, upright, wide, tall }, score];
      }
    }
  }
  return best;
}

/** A name with its grain arrow takes two and a half times its height. */
const ACROSS = 0.4;

/**
 * Twice the shorter way from a point inside to the outline along one axis.
 * @param {XY} p
 * @param {readonly XY[]} outline
 * @param {0 | 1} axis 0 along x, 1 along y
 */
export function freeWay(p, outline, axis) {
  const other = axis === 0 ? 1 : 0;
  let [less, more] = [-Infinity, Infinity];
  for (let i = 0, j = outline.length - 1; i < outline.length; j = i++) {
    const [a, b] = [outline[i], outline[j]];
    if (a[other] > p[other] === b[other] > p[other]) continue;
    const hit = a[axis] + ((p[other] - a[other]) / (b[other] - a[other])) * (b[axis] - a[axis]);
    if (hit <= p[axis]) less = Math.max(less, hit);
    else more = Math.min(more, hit);
  }
  return 2 * Math.min(p[axis] - less, more - p[axis]);
}

/**
 * Fewer points, none of the dropped ones further than `tolerance` from the line kept
 * (Douglas and Peucker, 1973). Ends stay.
 * @template {XY} P
 * @param {readonly P[]} points
 * @param {number} tolerance mm
 * @returns {P[]}
 */
export function simplify(points, tolerance) {
  if (points.length < 3) return [...points];
  const keep = new Uint8Array(points.length);
  keep[0] = keep[points.length - 1] = 1;
  /** @type {[number, number][]} */
  const work = [[0, points.length - 1]];
  for (let span = work.pop(); span; span = work.pop()) {
    const [first, last] = span;
    let [worst, at] = [tolerance, -1];
    for (let i = first + 1; i < last; i++) {
      const off = distanceToLine(points[i], [points[first], points[last]]);
      if (off > worst) [worst, at] = [off, i];
    }
    if (at > 0) {
      keep[at] = 1;
      work.push([first, at], [at, last]);
    }
  }
  return points.filter((_, i) => keep[i]);
}

/**
 * Steps of a ruler or an axis: round numbers, at most `most` of them over the range.
 * @param {number} range
 * @param {number} most
 * @param {readonly number[]} [bases] allowed leading figures
 * @returns {number}
 */
export function roundStep(range, most, bases = [1, 2, 5]) {
  if (!(range > 0)) return 1;
  let decade = 10 ** Math.floor(Math.log10(range / most));
  for (;;) {
    for (const base of bases) if (range / (base * decade) <= most + 1e-9) return base * decade;
    decade *= 10;
  }
}

/**
 * The part of a convex outline on one side of a line along an axis.
 * @param {XY[]} outline
 * @param {0 | 1} axis
 * @param {number} at
 * @param {1 | -1} side 1 keeps what is greater
 * @returns {XY[]}
 */
export function halfPlane(outline, axis, at, side) {
  /** @type {XY[]} */
  const kept = [];
  outline.forEach((a, i) => {
    const b = outline[(i + 1) % outline.length];
    const [da, db] = [(a[axis] - at) * side, (b[axis] - at) * side];
    if (da >= 0) kept.push(a);
    if (da * db < 0) kept.push([a[0] + ((b[0] - a[0]) * da) / (da - db), a[1] + ((b[1] - a[1]) * da) / (da - db)]);
  });
  return kept;
}
