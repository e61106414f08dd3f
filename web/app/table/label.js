// The words on a piece: what they may say, and where they stand clear of its lines. Pure.

import { inRing } from "./lines.js";
import { LEAST_CAP_MM, LINE, boxRing } from "./scene.js";

/** @typedef {import("./map.js").TablePoint} Point */
/** @typedef {import("./scene.js").Box} Box */
/** @typedef {import("./scene.js").Item} Item */
/** @typedef {import("./scene.js").Look} Look */
/** @typedef {import("./scene.js").Pens} Pens */
/** @typedef {import("./scene.js").Piece} Piece */
/** @typedef {import("./scene.js").Shade} Shade */
/** @typedef {import("./scene.js").Window} Window */

/** Tails of letters below the line, in heights of capitals. */
const TAIL = 0.3;

/** Words keep this far from the cut line, mm: the eye follows the line, not the letters. */
const CLEAR_MM = 4;

/**
 * What a label may say, the fullest first.
 * @param {Piece} piece
 * @param {{count: string, done: boolean, elsewhere: number, sides: string[]}} how
 * @returns {string[][]}
 */
export function labelChoices(piece, { count, done, elsewhere, sides }) {
  const number = count.split(" ")[0];
  if (done) return [[piece.label, "cut"], ["cut"]];
  if (elsewhere) return [[piece.label, `in window ${elsewhere}`], [`window ${elsewhere}`], [number]];
  const ply = piece.plies === 1 ? "one ply" : `${piece.plies} plies`;
  const goesOn = sides.some((s) => s === "x1" || s === "y1");
  const begun = sides.some((s) => s === "x0" || s === "y0");
  const more = begun && goesOn ? "begun before, goes on" : goesOn ? "goes on" : begun ? "begun before" : "";
  const rest = more ? [more] : [];
  return [
    [piece.label, `${piece.hand_text}, ${ply}`, count, ...rest],
    [piece.label, piece.hand_text, count, ...rest],
    [`${number} ${piece.label}`, piece.hand_text, ...rest],
    [`${number} ${piece.label}`, ...rest],
    [more ? `${number} ${more}` : `${number} ${piece.label}`],
    [number],
  ];
}

/**
 * @param {Piece} piece
 * @param {Window} window
 * @param {(points: Point[]) => Point[]} lay
 * @param {{choices: string[][], shade: Shade, look: Look, pens: Pens}} how
 * @returns {Item[]}
 */
export function labelItems(piece, window, lay, { choices, shade, look, pens }) {
  const cap = Math.max(look.cap_mm, LEAST_CAP_MM);
  const marks = piece.marks.flatMap((m) => m.points);
  const outline = thinned(piece.cut_line);
  const spots = places(piece, outline, window);
  const rooms = spots.map((at) => nearest(at, outline));
  for (const lines of choices) {
    const wide = Math.max(...lines.map((l) => pens.measure(l, cap))) + cap * 0.4;
    const high = ((lines.length - 1) * LINE + 1 + TAIL) * cap;
    for (const [i, at] of spots.entries()) {
      // A corner of the cut line nearer than the block is high lies in it: no need to look further.
      if (rooms[i] < Math.min(wide, high) / 2) continue;
      for (const turn of [0, Math.PI / 2]) {
        const ring = tilted(at, wide, high, turn);
        const rim = tilted(at, wide + 2 * CLEAR_MM, high + 2 * CLEAR_MM, turn);
        if (!fits(rim, outline, window.box)) continue;
        if (marks.some((m) => inRing(m, ring))) continue;
        return [{ kind: "area", rings: [lay(ring)], shade: "ground" }, ...stack(lines, lay([at])[0], turn, cap, look, shade)];
      }
    }
  }
  const [at] = spots;
  return at ? stack(choices[choices.length - 1], lay([at])[0], 0, cap, look, shade) : [];
}

/**
 * Lines of words round a middle, table mm.
 * @param {string[]} lines
 * @param {Point} at
 * @param {number} turn
 * @param {number} cap
 * @param {Look} look
 * @param {Shade} shade
 * @returns {Item[]}
 */
function stack(lines, at, turn, cap, look, shade) {
  const way = turn + (look.turned ? Math.PI : 0);
  const down = ((lines.length - 1) * LINE + 1 + TAIL) * cap * 0.5;
  // The first baseline: half the block above the middle, less the first line's own capitals.
  const up = down - cap;
  return [{ kind: "text", lines, at: [at[0] - Math.sin(way) * up, at[1] + Math.cos(way) * up], cap, turn: way, anchor: "middle", shade }];
}

/**
 * Places for a label in what is seen of a piece, best first, in cloth mm.
 * @param {Piece} piece
 * @param {Point[]} outline  its cut line, thinned
 * @param {Window} window
 * @returns {Point[]}
 */
function places(piece, outline, window) {
  const [x0, y0] = [Math.max(window.box[0], piece.box[0]), Math.max(window.box[1], piece.box[1])];
  const [x1, y1] = [Math.min(window.box[2], piece.box[2]), Math.min(window.box[3], piece.box[3])];
  const [mx, my] = [(x0 + x1) / 2, (y0 + y1) / 2];
  const [lx, ly] = piece.label_at;
  /** @type {[number, Point][]} */
  const found = [];
  /** @param {Point} p @param {number} favour */
  const add = (p, favour) => {
    if (p[0] <= x0 || p[0] >= x1 || p[1] <= y0 || p[1] >= y1 || !inRing(p, outline)) return;
    const room = Math.min(p[0] - x0, x1 - p[0], p[1] - y0, y1 - p[1], nearest(p, outline));
    // Room first; of equal room the place nearest the middle, as one would write it by hand.
    found.push([favour * room - 0.2 * Math.hypot(p[0] - mx, p[1] - my), p]);
  };
  add([lx, ly], 1);
  add([mx, my], 1.5);
  for (let i = 1; i < 8; i += 1) for (let j = 1; j < 8; j += 1) add([x0 + ((x1 - x0) * i) / 8, y0 + ((y1 - y0) * j) / 8], 1);
  return found.sort((a, b) => b[0] - a[0]).slice(0, 8).map(([, p]) => p);
}

/** A ring without the points that lie close behind another: words keep further off than that. @param {Point[]} ring @returns {Point[]} */
function thinned(ring) {
  let [kx, ky] = [Infinity, Infinity];
  return ring.filter(([x, y]) => {
    if (Math.hypot(x - kx, y - ky) < CLEAR_MM / 2) return false;
    [kx, ky] = [x, y];
    return true;
  });
}

/** Distance from the nearest corner of a ring: near enough to rank places. @param {Point} p @param {Point[]} ring */
function nearest(p, ring) {
  let least = Infinity;
  for (const [x, y] of ring) {
    const d = (x - p[0]) ** 2 + (y - p[1]) ** 2;
    if (d < least) least = d;
  }
  return Math.sqrt(least);
}

/** @param {Point} at @param {number} w @param {number} h @param {number} turn @returns {Point[]} */
function tilted(at, w, h, turn) {
  const [c, s] = [Math.cos(turn), Math.sin(turn)];
  return boxRing([-w / 2, -h / 2, w / 2, h / 2]).map(([x, y]) => [at[0] + c * x - s * y, at[1] + s * x + c * y]);
}

/** Does a box lie inside a ring and a window? Sides are sampled. @param {Point[]} ring @param {Point[]} within @param {Box} window */
function fits(ring, within, window) {
  for (let i = 0; i < ring.length; i += 1) {
    const [a, b] = [ring[i], ring[(i + 1) % ring.length]];
    for (let t = 0; t < 8; t += 1) {
      /** @type {Point} */
      const p = [a[0] + ((b[0] - a[0]) * t) / 8, a[1] + ((b[1] - a[1]) * t) / 8];
      if (p[0] < window[0] || p[0] > window[2] || p[1] < window[1] || p[1] > window[3]) return false;
      if (!inRing(p, within)) return false;
    }
  }
  return !within.some((p) => inRing(p, ring));
}
