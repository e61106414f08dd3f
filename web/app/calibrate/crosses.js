// Crosses at known pixels, the pairs to measure in walking order, and room for the panel. Pure.

/** @typedef {[number, number]} CanvasPoint device px, pixel i covers [i, i + 1) */

/**
 * @typedef {object} CrossSet
 * @property {"corners" | "grid"} kind
 * @property {Record<string, CanvasPoint>} crosses
 * @property {string} origin  the table's frame starts here
 * @property {string} along   and x runs to here
 */

/** Distance of the outer crosses from the canvas edges, as a share of the canvas. */
const INSET = 0.06;

/** Crosses and their letters take this much room around their middle, px at a picture 1080 px high. */
const CROSS_ROOM = 70;

/**
 * Four crosses near the corners (A bottom left, B bottom right, C top right, D top left) or nine
 * (A B C along the bottom, D E F, G H I at the top); twin of calibration/tape.py.
 * @param {"corners" | "grid"} kind
 * @param {[number, number]} canvas
 * @returns {CrossSet}
 */
export function crossSet(kind, canvas) {
  if (kind === "corners") {
    const [xs, ys] = [lines(canvas[0], 2), lines(canvas[1], 2)];
    return { kind, origin: "A", along: "B", crosses: { A: [xs[0], ys[1]], B: [xs[1], ys[1]], C: [xs[1], ys[0]], D: [xs[0], ys[0]] } };
  }
  const [xs, ys] = [lines(canvas[0], 3), lines(canvas[1], 3)];
  /** @type {Record<string, CanvasPoint>} */
  const crosses = {};
  [2, 1, 0].forEach((row, r) => xs.forEach((x, c) => {
    crosses["ABCDEFGHI"[3 * r + c]] = [x, ys[row]];
  }));
  return { kind, origin: "A", along: "C", crosses };
}

/**
 * Pairs to measure, in the order in which one walks round the table; long distances first, for they
 * settle most.
 * @param {"corners" | "grid"} kind
 * @returns {[string, string][]}
 */
export function pairsOf(kind) {
  const said = kind === "corners"
    ? "AB BC CD AD AC BD"
    : "AC CI GI AG AI CG DF BH AB BC CF FI HI GH DG AD DE EF BE EH AE CE EI EG BD BF DH FH";
  return said.split(" ").map((p) => /** @type {[string, string]} */ ([p[0], p[1]]));
}

/**
 * A rectangle [x, y, w, h] of canvas px in which a panel covers no cross and no letter.
 * @param {CrossSet} set
 * @param {[number, number]} canvas
 * @returns {[number, number, number, number]}
 */
export function freeRoom(set, canvas) {
  const pad = Math.max(36, (CROSS_ROOM * Math.min(canvas[0], canvas[1])) / 1080);
  const points = Object.values(set.crosses);
  const xs = [...new Set(points.map((p) => p[0]))].sort((a, b) => a - b);
  const ys = [...new Set(points.map((p) => p[1]))].sort((a, b) => a - b);
  return [xs[0] + pad, ys[0] + pad, xs[1] - xs[0] - 2 * pad, ys[1] - ys[0] - 2 * pad];
}

/**
 * A corner [x, y, w, h] of the canvas in which a panel covers nothing of a lit line and its words:
 * the one farthest from it.
 * @param {CanvasPoint} from
 * @param {CanvasPoint} to
 * @param {[number, number]} canvas
 * @returns {[number, number, number, number]}
 */
export function roomBeside(from, to, canvas) {
  const [w, h] = [canvas[0] * 0.47, canvas[1] * 0.44];
  const m = 0.02 * canvas[1];
  /** @type {[number, number][]} */
  const corners = [[m, m], [canvas[0] - w - m, m], [m, canvas[1] - h - m], [canvas[0] - w - m, canvas[1] - h - m]];
  /** @param {[number, number]} corner */
  const clearance = ([x, y]) => {
    let least = Infinity;
    for (let i = 0; i <= 32; i += 1) {
      const [px, py] = [from[0] + ((to[0] - from[0]) * i) / 32, from[1] + ((to[1] - from[1]) * i) / 32];
      const [dx, dy] = [Math.max(x - px, px - x - w, 0), Math.max(y - py, py - y - h, 0)];
      least = Math.min(least, Math.hypot(dx, dy));
    }
    return least;
  };
  const best = corners.reduce((a, b) => (clearance(b) > clearance(a) ? b : a));
  return [best[0], best[1], w, h];
}

/** @param {number} side @param {number} n */
function lines(side, n) {
  return Array.from({ length: n }, (_, i) => Math.floor(side * (INSET + ((1 - 2 * INSET) * i) / (n - 1))) + 0.5);
}
