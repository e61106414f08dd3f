// The table map: from a place on the table (mm, y up) to a place on the canvas (device px, y down).
//
// The one module of the pages that applies it; its twin is calibration/table_map.py and a test holds
// the two together. Canvas places are continuous: pixel i covers [i, i + 1), its centre is i + 0.5.

/** A place on the table, mm: x along, y across, up as in a graph. @typedef {[number, number]} TablePoint */
/** A place on the canvas, device px: x right, y down. @typedef {[number, number]} CanvasPoint */
/** A plane-to-plane map, row by row. @typedef {number[][]} Matrix */

/**
 * Ideal px -> canvas px: c + radius_px (a (1 + k1 r^2 + k2 r^4) + across), a = (q - c) / radius_px, with
 * across = (2 p1 x y + p2 (r^2 + 2 x^2), p1 (r^2 + 2 y^2) + 2 p2 x y), nothing where p1 and p2 are not given.
 * @typedef {{k1: number, k2: number, centre_px: number[], radius_px: number, p1?: number, p2?: number}} Lens
 */

/**
 * @typedef {object} MapData  what the service says of a map, as far as drawing needs it
 * @property {Matrix} projector_from_table
 * @property {Lens | null} [lens]
 * @property {number[]} canvas  width and height in device px that the map was made for
 */

/**
 * @typedef {object} TableMap
 * @property {[number, number]} canvas
 * @property {Lens | null} lens
 * @property {Matrix} matrix  from table to canvas, before the lens bends it
 * @property {(place: TablePoint) => CanvasPoint} toCanvas  only for places that `reaches` is true of
 * @property {(place: CanvasPoint) => TablePoint} toTable
 * @property {(place: TablePoint) => boolean} reaches  on the lit side, near enough for the lens terms
 * @property {TablePoint[]} region  convex outline, counter-clockwise: a little more than the canvas lights
 */

/** Steps of Newton's method: enough to settle to rounding error from any bend that is accepted. */
const NEWTON_STEPS = 12;

/** How far beyond its half diagonal a bent canvas may be asked about (as in the Python twin). */
const REACH = 1.5;

/** Half the width of the frame around the canvas that is still drawn, so that lines run off it. */
const MARGIN_PX = 24;

/** Largest distance of a drawn chord from its true curve, px. */
export const CHORD_PX = 0.1;

/**
 * A table map ready for use. Throws when the figures are not nine finite numbers.
 * @param {MapData} data
 * @returns {TableMap}
 */
export function tableMap(data) {
  const matrix = data.projector_from_table;
  if (matrix.length !== 3 || matrix.some((row) => row.length !== 3 || !row.every(Number.isFinite))) {
    throw new Error("A table map needs nine finite numbers, three by three.");
  }
  const canvas = /** @type {[number, number]} */ ([data.canvas[0], data.canvas[1]]);
  const lens = data.lens ?? null;
  const back = inverse(matrix);
  const middle = applyMatrix(back, lens ? unbend(lens, [canvas[0] / 2, canvas[1] / 2]) : [canvas[0] / 2, canvas[1] / 2]);
  // A homography has no sign of its own: the lit side is where the canvas' middle lies.
  const side = Math.sign(denominator(matrix, middle));
  const reach = lens ? lensReach(lens, canvas) : Infinity;
  return {
    canvas,
    lens,
    matrix,
    toCanvas(place) {
      const q = applyMatrix(matrix, place);
      return lens ? bend(lens, q) : q;
    },
    toTable(place) {
      return applyMatrix(back, lens ? unbend(lens, place) : place);
    },
    reaches(place) {
      if (denominator(matrix, place) * side <= 0) return false;
      if (!lens) return true;
      const q = applyMatrix(matrix, place);
      return Math.hypot(q[0] - lens.centre_px[0], q[1] - lens.centre_px[1]) <= reach;
    },
    region: drawableRegion(back, lens, canvas),
  };
}

/**
 * `place` through a 3 x 3 matrix.
 * @param {Matrix} m
 * @param {[number, number] | number[]} place
 * @returns {[number, number]}
 */
export function applyMatrix(m, place) {
  const [x, y] = place;
  const w = denominator(m, place);
  return [(m[0][0] * x + m[0][1] * y + m[0][2]) / w, (m[1][0] * x + m[1][1] * y + m[1][2]) / w];
}

/** One map after the other: first `b`, then `a`. @param {Matrix} a @param {Matrix} b @returns {Matrix} */
export function after(a, b) {
  return a.map((row) => [0, 1, 2].map((j) => row[0] * b[0][j] + row[1] * b[1][j] + row[2] * b[2][j]));
}

/**
 * Inverse of a 3 x 3 matrix by its adjugate.
 * @param {Matrix} m
 * @returns {Matrix}
 */
export function inverse(m) {
  const [[a, b, c], [d, e, f], [g, h, i]] = m;
  const [A, B, C] = [e * i - f * h, c * h - b * i, b * f - c * e];
  const [D, E, F] = [f * g - d * i, a * i - c * g, c * d - a * f];
  const [G, H, I] = [d * h - e * g, b * g - a * h, a * e - b * d];
  const det = a * A + b * D + c * G;
  if (!Number.isFinite(1 / det)) throw new Error("This map flattens the table to a line.");
  return [[A, B, C], [D, E, F], [G, H, I]].map((row) => row.map((v) => v / det));
}

/**
 * Smallest and largest scale at a place, canvas px per table mm.
 * @param {TableMap} map
 * @param {TablePoint} place
 * @returns {[number, number]}
 */
export function pxPerMm(map, place) {
  const [a, b, c, d] = slopes(map, place);
  // Singular values of a 2 x 2 matrix in closed form.
  const sum = Math.hypot(a + d, c - b) / 2;
  const difference = Math.hypot(a - d, b + c) / 2;
  return [Math.abs(sum - difference), sum + difference];
}

/**
 * How the canvas place moves with the table place, per mm: [dX/dx, dX/dy, dY/dx, dY/dy].
 * @param {TableMap} map
 * @param {TablePoint} place
 * @returns {[number, number, number, number]}
 */
export function slopes(map, [x, y]) {
  const [e, w] = [map.toCanvas([x + 0.5, y]), map.toCanvas([x - 0.5, y])];
  const [n, s] = [map.toCanvas([x, y + 0.5]), map.toCanvas([x, y - 0.5])];
  return [e[0] - w[0], n[0] - s[0], e[1] - w[1], n[1] - s[1]];
}

/**
 * Canvas places of a line on the table: corner by corner, with points between where the lens bends
 * it by more than `tolerance_px`. A plane-to-plane map alone keeps straight what is straight.
 * All places must lie in the map's region: clip first.
 * @param {TableMap} map
 * @param {TablePoint[]} line
 * @param {{closed?: boolean, tolerance_px?: number}} [options]
 * @returns {CanvasPoint[]}
 */
export function traceLine(map, line, { closed = false, tolerance_px = CHORD_PX } = {}) {
  if (line.length === 0) return [];
  const first = map.toCanvas(line[0]);
  /** @type {CanvasPoint[]} */
  const traced = [first];
  const steps = closed ? line.length : line.length - 1;
  let from = first;
  for (let i = 0; i < steps; i += 1) {
    const end = (i + 1) % line.length;
    const to = end === 0 ? first : map.toCanvas(line[end]);
    if (map.lens) between(map, line[i], line[end], from, to, tolerance_px, traced, 0);
    if (end !== 0) traced.push(to);
    from = to;
  }
  return traced;
}

/**
 * @param {TableMap} map
 * @param {TablePoint} a
 * @param {TablePoint} b
 * @param {CanvasPoint} pa
 * @param {CanvasPoint} pb
 * @param {number} tolerance
 * @param {CanvasPoint[]} traced
 * @param {number} depth
 */
function between(map, a, b, pa, pb, tolerance, traced, depth) {
  /** @param {number} t @returns {TablePoint} */
  const at = (t) => [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])];
  const middle = at(0.5);
  const pm = map.toCanvas(middle);
  // Quarter points too: a bend whose two halves cancel passes through the chord's middle.
  const off = Math.max(...[map.toCanvas(at(0.25)), pm, map.toCanvas(at(0.75))].map((p) => fromChord(p, pa, pb)));
  if (off <= tolerance || depth >= 12) return;
  between(map, a, middle, pa, pm, tolerance, traced, depth + 1);
  traced.push(pm);
  between(map, middle, b, pm, pb, tolerance, traced, depth + 1);
}

/** @param {CanvasPoint} p @param {CanvasPoint} a @param {CanvasPoint} b @returns {number} */
function fromChord(p, a, b) {
  const [dx, dy] = [b[0] - a[0], b[1] - a[1]];
  const length = Math.hypot(dx, dy);
  if (length === 0) return Math.hypot(p[0] - a[0], p[1] - a[1]);
  return Math.abs((p[0] - a[0]) * dy - (p[1] - a[1]) * dx) / length;
}

/** @param {Matrix} m @param {[number, number] | number[]} place @returns {number} */
function denominator(m, place) {
  return m[2][0] * place[0] + m[2][1] * place[1] + m[2][2];
}

/** @param {Lens} lens @param {[number, number]} q ideal px @returns {CanvasPoint} */
function bend(lens, q) {
  const [[cx, cy], radius] = [lens.centre_px, lens.radius_px];
  const [x, y] = [(q[0] - cx) / radius, (q[1] - cy) / radius];
  const r2 = x * x + y * y;
  const grow = 1 + r2 * (lens.k1 + lens.k2 * r2);
  const [dx, dy] = across(lens, x, y);
  return [cx + radius * (x * grow + dx), cy + radius * (y * grow + dy)];
}

/** What the tangential terms add, in radii. @param {Lens} lens @param {number} x @param {number} y */
function across({ p1 = 0, p2 = 0 }, x, y) {
  const r2 = x * x + y * y;
  return [2 * p1 * x * y + p2 * (r2 + 2 * x * x), p1 * (r2 + 2 * y * y) + 2 * p2 * x * y];
}

/** Ideal px of a canvas place; the small part across is taken off step by step. @param {Lens} lens @param {CanvasPoint} p @returns {[number, number]} */
function unbend(lens, p) {
  const [[cx, cy], radius] = [lens.centre_px, lens.radius_px];
  const [sx, sy] = [(p[0] - cx) / radius, (p[1] - cy) / radius];
  let [x, y] = unbendRadially(lens, sx, sy);
  for (let i = 0; (lens.p1 || lens.p2) && i < NEWTON_STEPS; i += 1) {
    const [dx, dy] = across(lens, x, y);
    [x, y] = unbendRadially(lens, sx - dx, sy - dy);
  }
  return [cx + radius * x, cy + radius * y];
}

/** By Newton's method on the radius. @param {Lens} lens @param {number} x @param {number} y @returns {[number, number]} */
function unbendRadially({ k1, k2 }, x, y) {
  const wanted = Math.hypot(x, y);
  if (wanted === 0 || (k1 === 0 && k2 === 0)) return [x, y];
  const limit = bendLimit(k1, k2);
  let r = Math.min(wanted, limit);
  for (let i = 0; i < NEWTON_STEPS; i += 1) {
    const r2 = r * r;
    const slope = Math.max(1 + r2 * (3 * k1 + 5 * k2 * r2), 1e-3);
    r = Math.min(Math.max(r - (r * (1 + r2 * (k1 + k2 * r2)) - wanted) / slope, 0), limit);
  }
  return [(x * r) / wanted, (y * r) / wanted];
}

/** Largest r for which the bent radius still grows; infinite when it always does. @param {number} k1 @param {number} k2 */
function bendLimit(k1, k2) {
  // Smallest positive root s = r^2 of 1 + 3 k1 s + 5 k2 s^2.
  const [a, b] = [5 * k2, 3 * k1];
  const roots = [];
  if (a === 0) {
    if (b < 0) roots.push(-1 / b);
  } else {
    const under = b * b - 4 * a;
    if (under >= 0) roots.push((-b + Math.sqrt(under)) / (2 * a), (-b - Math.sqrt(under)) / (2 * a));
  }
  const turning = roots.filter((s) => s > 0);
  return turning.length ? Math.sqrt(Math.min(...turning)) : Infinity;
}

/** Largest |q - c| in ideal px that the lens terms are asked about. @param {Lens} lens @param {[number, number]} canvas */
function lensReach(lens, canvas) {
  const half = 0.5 * Math.hypot(canvas[0], canvas[1]);
  return Math.min(REACH * half, bendLimit(lens.k1, lens.k2) * lens.radius_px);
}

/**
 * The box of ideal px that holds the whole canvas and its margin, taken back to the table.
 * @param {Matrix} tableFromIdeal
 * @param {Lens | null} lens
 * @param {[number, number]} canvas
 * @returns {TablePoint[]}
 */
function drawableRegion(tableFromIdeal, lens, [w, h]) {
  const m = MARGIN_PX;
  /** @type {CanvasPoint[]} */
  const border = [];
  for (let i = 0; i <= 16; i += 1) {
    const [x, y] = [-m + (i / 16) * (w + 2 * m), -m + (i / 16) * (h + 2 * m)];
    border.push([x, -m], [x, h + m], [-m, y], [w + m, y]);
  }
  const ideal = lens ? border.map((p) => unbend(lens, p)) : border;
  const xs = ideal.map((p) => p[0]);
  const ys = ideal.map((p) => p[1]);
  const [x0, x1, y0, y1] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
  // Bottom left first, then round to the right: counter-clockwise on the table, where y points up.
  return [[x0, y1], [x1, y1], [x1, y0], [x0, y0]].map((p) => applyMatrix(tableFromIdeal, p));
}
