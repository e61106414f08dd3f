// A line with fewer corners: what lies nearer to it than anybody can see is left out. Pure.
//
// Sleeve fitting in one pass (after Zhao and Saalfeld, Linear-time sleeve-fitting polyline
// simplification, 1997): from a kept corner the directions that pass every later corner within the
// tolerance form a wedge; the line goes on straight until a corner falls outside of it.

/** @typedef {import("./map.js").TablePoint} Point */
/** @typedef {import("./map.js").Matrix} Matrix */

/**
 * The corners of `line` that are needed: every corner left out, and so every point of the line, lies
 * within `tolerance` of the straight line between the two kept corners on either side of it, measured
 * in the plane that `matrix` (3 x 3) takes the line to. The first and last corner are always kept; of
 * a closed line, whose first corner is not repeated, the first.
 * All of the line must lie on one side of the horizon of `matrix`.
 * @param {Point[]} line
 * @param {boolean} closed
 * @param {Matrix} matrix
 * @param {number} tolerance  in units of the plane
 * @returns {Point[]} the same points; `line` itself when all are needed
 */
export function needed(line, closed, matrix, tolerance) {
  const n = line.length;
  if (n < 3) return line;
  const count = closed ? n + 1 : n;
  const [xs, ys] = mapped(line, count, matrix);
  const kept = [line[0]];
  let from = 0;
  while (from < count - 1) {
    from = reach(xs, ys, from, count, tolerance);
    if (from < n) kept.push(line[from]);
  }
  return kept.length === n ? line : kept;
}

/** The last corner to which one straight line from `from` will do. @param {Float64Array} xs @param {Float64Array} ys @param {number} from @param {number} count @param {number} tolerance */
function reach(xs, ys, from, count, tolerance) {
  const [ax, ay] = [xs[from], ys[from]];
  // The wedge's two sides, as unit vectors: [rx, ry] on the right, [lx, ly] on the left.
  let [rx, ry, lx, ly] = [0, 0, 0, 0];
  let open = true;
  let far = 0;
  for (let i = from + 1; i < count; i += 1) {
    const dx = xs[i] - ax;
    const dy = ys[i] - ay;
    const d = Math.sqrt(dx * dx + dy * dy);
    // Turning back would leave a spur beyond the line's end.
    if (d < far) return i - 1;
    far = d;
    if (d <= tolerance) continue;
    if (!open && (rx * dy - ry * dx < 0 || dx * ly - dy * lx < 0)) return i - 1;
    // The directions that pass this corner: its own, plus and minus asin(tolerance / d).
    const s = tolerance / d;
    const c = Math.sqrt(1 - s * s);
    const [ux, uy] = [dx / d, dy / d];
    const [nrx, nry] = [ux * c + uy * s, uy * c - ux * s];
    const [nlx, nly] = [ux * c - uy * s, uy * c + ux * s];
    if (open || rx * nry - ry * nrx > 0) [rx, ry] = [nrx, nry];
    if (open || nlx * ly - nly * lx > 0) [lx, ly] = [nlx, nly];
    open = false;
  }
  return count - 1;
}

/** @param {Point[]} line @param {number} count  one more than there are = the first again @param {Matrix} m @returns {[Float64Array, Float64Array]} */
function mapped(line, count, [[a, b, c], [d, e, f], [g, h, k]]) {
  const xs = new Float64Array(count);
  const ys = new Float64Array(count);
  for (let i = 0; i < line.length; i += 1) {
    const [x, y] = line[i];
    const w = 1 / (g * x + h * y + k);
    xs[i] = (a * x + b * y + c) * w;
    ys[i] = (d * x + e * y + f) * w;
  }
  if (count > line.length) {
    xs[count - 1] = xs[0];
    ys[count - 1] = ys[0];
  }
  return [xs, ys];
}
