// Shapes of light in table mm: the band beside a cut edge, dashes, hatches, arrows, clipping. Pure.

/** @typedef {import("./map.js").TablePoint} Point */
/** @typedef {{points: Point[], closed: boolean}} Line */
/** @typedef {[number, number, number, number]} Box x0, y0, x1, y1 */

/** Two points nearer than this are one, mm. */
const SAME_MM = 1e-6;

/** A mitre longer than this many widths is cut off: the lit tip of a needle would reach a neighbour. */
const MITRE_LIMIT = 2;

/**
 * The band of light beside a cut edge: its inner rim is the line itself, its outer rim runs `width`
 * mm outside. `line` runs counter-clockwise, so outside is on its right. Result: one closed ring for
 * an open line; two rings (outer, then the line reversed) for a closed one; fill by the nonzero rule.
 * @param {Line} line
 * @param {number} width
 * @returns {Point[][]}
 */
export function band(line, width) {
  const inner = withoutRepeats(line.points, line.closed);
  if (inner.length < 2) return [];
  const outer = beside(inner, line.closed, width);
  const back = [...inner].reverse();
  return line.closed ? [outer, back] : [[...outer, ...back]];
}

/**
 * The line `width` mm to the right of `points`, mitred; sharp outward corners are cut off.
 * @param {Point[]} points
 * @param {boolean} closed
 * @param {number} width
 * @returns {Point[]}
 */
export function beside(points, closed, width) {
  const n = points.length;
  /** @type {Point[]} */
  const out = [];
  for (let i = 0; i < n; i += 1) {
    const before = closed || i > 0 ? normal(points[(i + n - 1) % n], points[i]) : null;
    const after = closed || i < n - 1 ? normal(points[i], points[(i + 1) % n]) : null;
    const [a, b] = [before ?? after, after ?? before];
    if (!a || !b) continue;
    const p = points[i];
    const cosine = a[0] * b[0] + a[1] * b[1];
    const scale = width / (1 + cosine);
    const length = Math.sqrt(Math.max(2 / (1 + cosine), 0));
    const outward = a[0] * b[1] - a[1] * b[0] >= 0;
    if (length <= MITRE_LIMIT) {
      out.push([p[0] + (a[0] + b[0]) * scale, p[1] + (a[1] + b[1]) * scale]);
    } else if (outward) {
      out.push([p[0] + a[0] * width, p[1] + a[1] * width], [p[0] + b[0] * width, p[1] + b[1] * width]);
    } else {
      // A gap narrower than the band: stay at the corner rather than light the far side of the gap.
      out.push(p);
    }
  }
  return out;
}

/**
 * A closed cut line opened where it lies on the fold, for the fold is not cut.
 * @param {Point[]} cutLine
 * @param {Point[] | null} foldLine  both ends, or null
 * @returns {Line}
 */
export function openAtFold(cutLine, foldLine) {
  const ring = withoutRepeats(cutLine, true);
  if (!foldLine) return { points: ring, closed: true };
  const [a, b] = foldLine;
  const length = Math.hypot(b[0] - a[0], b[1] - a[1]) || 1;
  const [ux, uy] = [(b[0] - a[0]) / length, (b[1] - a[1]) / length];
  /** @param {Point} p */
  const onFold = (p) => {
    const [dx, dy] = [p[0] - a[0], p[1] - a[1]];
    const along = dx * ux + dy * uy;
    return Math.abs(dx * uy - dy * ux) < 0.05 && along > -0.05 && along < length + 0.05;
  };
  const n = ring.length;
  const folded = ring.map((p, i) => onFold(p) && onFold(ring[(i + 1) % n]));
  const start = folded.findIndex((f, i) => f && !folded[(i + 1) % n]);
  if (start < 0) return { points: ring, closed: true };
  /** @type {Point[]} */
  const open = [];
  for (let k = 1; k <= n; k += 1) {
    const i = (start + k) % n;
    open.push(ring[i]);
    if (folded[i]) break;
  }
  return { points: open, closed: false };
}

/**
 * `line` cut into dashes: `pattern` is lit, unlit, lit, unlit ... mm, repeated along the line.
 * @param {Line} line
 * @param {number[]} pattern
 * @returns {Point[][]}
 */
export function dashes(line, pattern) {
  const path = line.closed ? [...line.points, line.points[0]] : line.points;
  /** @type {Point[][]} */
  const out = [];
  let [at, left] = [0, pattern[0]];
  /** @type {Point[]} */
  let current = path.length ? [path[0]] : [];
  for (let i = 0; i + 1 < path.length; i += 1) {
    let from = path[i];
    const to = path[i + 1];
    let rest = Math.hypot(to[0] - from[0], to[1] - from[1]);
    while (rest > left) {
      const t = left / rest;
      from = [from[0] + t * (to[0] - from[0]), from[1] + t * (to[1] - from[1])];
      if (at % 2 === 0) out.push([...current, from]);
      rest -= left;
      at = (at + 1) % pattern.length;
      left = pattern[at];
      current = [from];
    }
    left -= rest;
    if (at % 2 === 0) current.push(to);
  }
  if (at % 2 === 0 && current.length > 1) out.push(current);
  return out;
}

/**
 * Short strokes off a fold line, on its right, that say: do not cut here.
 * @param {Point} a
 * @param {Point} b
 * @param {{every: number, length: number}} size  mm
 * @returns {Point[][]}
 */
export function hatch(a, b, { every, length }) {
  const total = Math.hypot(b[0] - a[0], b[1] - a[1]);
  const n = normal(a, b);
  if (!n) return [];
  const count = Math.max(1, Math.floor(total / every));
  /** @type {Point[][]} */
  const strokes = [];
  for (let i = 0; i < count; i += 1) {
    const t = (i + 0.5) / count;
    const [x, y] = [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])];
    // Leaning strokes: upright ones would be read as notches.
    const [ux, uy] = [-n[1], n[0]];
    strokes.push([[x, y], [x + length * (n[0] + ux) * Math.SQRT1_2, y + length * (n[1] + uy) * Math.SQRT1_2]]);
  }
  return strokes;
}

/**
 * A grain arrow: its shaft and its filled heads.
 * @param {Point} tail
 * @param {Point} head
 * @param {{size: number, both: boolean}} how
 * @returns {{shaft: Point[], heads: Point[][]}}
 */
export function arrow(tail, head, { size, both }) {
  const length = Math.hypot(head[0] - tail[0], head[1] - tail[1]) || 1;
  const [ux, uy] = [(head[0] - tail[0]) / length, (head[1] - tail[1]) / length];
  const s = Math.min(size, length / 3);
  /** @param {Point} tip @param {number} way @returns {Point[]} */
  const point = (tip, way) => [
    tip,
    [tip[0] - way * ux * s - uy * s * 0.4, tip[1] - way * uy * s + ux * s * 0.4],
    [tip[0] - way * ux * s + uy * s * 0.4, tip[1] - way * uy * s - ux * s * 0.4],
  ];
  const heads = [point(head, 1)];
  if (both) heads.push(point(tail, -1));
  return { shaft: [tail, head], heads };
}

/**
 * The strokes of a notch: from the cut line inwards, one for each mark, 5 mm apart along the edge.
 * @param {{at: Point, tip: Point, marks?: number}} notch
 * @returns {Point[][]}
 */
export function notchStrokes({ at, tip, marks = 1 }) {
  const length = Math.hypot(tip[0] - at[0], tip[1] - at[1]) || 1;
  const [ux, uy] = [-(tip[1] - at[1]) / length, (tip[0] - at[0]) / length];
  return Array.from({ length: marks }, (_, i) => {
    const s = (i - (marks - 1) / 2) * 5;
    return /** @type {Point[]} */ ([[at[0] + s * ux, at[1] + s * uy], [tip[0] + s * ux, tip[1] + s * uy]]);
  });
}

/**
 * The stretches of an open line inside a box (Liang and Barsky, A new concept and method for line
 * clipping, 1984).
 * @param {Point[]} line
 * @param {Box} box
 * @returns {Point[][]}
 */
export function clipLine(line, box) {
  /** @type {Point[][]} */
  const out = [];
  /** @type {Point[]} */
  let current = [];
  for (let i = 0; i + 1 < line.length; i += 1) {
    const [a, b] = [line[i], line[i + 1]];
    if (a[0] === b[0] && a[1] === b[1]) continue;
    const part = share(a, b, box);
    if (part && part[0] === 0 && current.length) {
      current.push(toward(a, b, part[1]));
    } else {
      if (current.length > 1) out.push(current);
      current = part ? [toward(a, b, part[0]), toward(a, b, part[1])] : [];
    }
    if (part && part[1] < 1) {
      out.push(current);
      current = [];
    }
  }
  if (current.length > 1) out.push(current);
  return out;
}

/**
 * Is `p` inside the ring (even-odd)?
 * @param {Point} p
 * @param {Point[]} ring
 */
export function inRing([x, y], ring) {
  let within = false;
  for (let i = 0, j = ring.length - 1; i < ring.length; j = i, i += 1) {
    const [[xi, yi], [xj, yj]] = [ring[i], ring[j]];
    if (yi > y !== yj > y && x < ((xj - xi) * (y - yi)) / (yj - yi) + xi) within = !within;
  }
  return within;
}

/** Is `p` in the box? @param {Point} p @param {Box} box */
export function inBox([x, y], [x0, y0, x1, y1]) {
  return x >= x0 && x <= x1 && y >= y0 && y <= y1;
}

/** Box round points. @param {Point[]} points @returns {Box} */
export function box(points) {
  const [xs, ys] = [points.map((p) => p[0]), points.map((p) => p[1])];
  return [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)];
}

/** Where, from 0 at a to 1 at b, the segment is inside the box; null when it only touches it or less. @param {Point} a @param {Point} b @param {Box} box @returns {[number, number] | null} */
function share(a, b, box) {
  // Most segments are wholly inside.
  if (inBox(a, box) && inBox(b, box)) return [0, 1];
  const [[ax, ay], [bx, by], [x0, y0, x1, y1]] = [a, b, box];
  let [t0, t1] = [0, 1];
  for (const [step, from, low, high] of [[bx - ax, ax, x0, x1], [by - ay, ay, y0, y1]]) {
    if (step === 0) {
      if (from < low || from > high) return null;
    } else {
      const [enter, leave] = step > 0 ? [(low - from) / step, (high - from) / step] : [(high - from) / step, (low - from) / step];
      t0 = Math.max(t0, enter);
      t1 = Math.min(t1, leave);
    }
  }
  return t0 < t1 ? [t0, t1] : null;
}

/** @param {Point} p @param {Point} q @param {number} t @returns {Point} */
function toward(p, q, t) {
  if (t === 0) return p;
  if (t === 1) return q;
  return [p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])];
}

/** Unit normal on the right of a to b, or null when they are one place. @param {Point} a @param {Point} b @returns {Point | null} */
function normal(a, b) {
  const [dx, dy] = [b[0] - a[0], b[1] - a[1]];
  const length = Math.hypot(dx, dy);
  return length < SAME_MM ? null : [dy / length, -dx / length];
}

/** @param {Point[]} points @param {boolean} closed @returns {Point[]} */
function withoutRepeats(points, closed) {
  const out = points.filter((p, i) => i === 0 || Math.hypot(p[0] - points[i - 1][0], p[1] - points[i - 1][1]) >= SAME_MM);
  if (closed && out.length > 1) {
    const [a, b] = [out[0], out[out.length - 1]];
    if (Math.hypot(a[0] - b[0], a[1] - b[1]) < SAME_MM) out.pop();
  }
  return out;
}
