// One piece in one window: cut line, marks, bars where it goes on, and its label. Pure.

import { after } from "./map.js";
import { labelChoices, labelItems } from "./label.js";
import { arrow, band, clipLine, dashes, inBox, notchStrokes, openAtFold } from "./lines.js";
import { foldItems, layer, lineWidth } from "./scene.js";
import { needed } from "./sleeve.js";

/** @typedef {import("./map.js").TablePoint} Point */
/** @typedef {import("./scene.js").Box} Box */
/** @typedef {import("./scene.js").Item} Item */
/** @typedef {import("./scene.js").Look} Look */
/** @typedef {import("./scene.js").Pens} Pens */
/** @typedef {import("./scene.js").Piece} Piece */
/** @typedef {import("./scene.js").Shade} Shade */
/** @typedef {import("./scene.js").Window} Window */

/** What bends by less than this is drawn straight, px. */
const UNSEEN_PX = 0.05;

const NET_DASH = [9, 6];

/**
 * The shapes of one piece in one window.
 * @param {Piece} piece
 * @param {Window} window
 * @param {{count: string, shade: Shade, look: Look, pens: Pens, approved?: boolean, done?: boolean, alone?: boolean, elsewhere?: number}} how
 *   count such as "3 of 11"; not approved = dashed, so that nobody cuts by it; done = already cut;
 *   alone = drawn over the rest, with its own piece of the fold; elsewhere = number of the window
 *   in which it is shown whole, and cut
 * @returns {Item[]}
 */
export function pieceItems(piece, window, { count, shade, look, pens, approved = true, done = false, alone = false, elsewhere = 0 }) {
  const lay = layer(window);
  const clip = window.box;
  const cut = openAtFold(piece.cut_line, piece.fold_line);
  const canvas = after(pens.map.matrix, window.table_from_cloth);
  const seen = stretches(cut, clip).map(({ points, closed }) => ({ points: needed(points, closed, canvas, UNSEEN_PX), closed }));
  const width = lineWidth(pens.map, lay(seen.flatMap((s) => s.points)), look.width_mm);
  /** @type {Item[]} */
  const items = [];
  const plain = approved && !done && !elsewhere;
  for (const stretch of seen) {
    // A neighbour's light on this side of a shared cut would hide the edge: the inside stays unlit.
    if (alone) items.push({ kind: "area", rings: band(backwards(stretch), width + 1).map(lay), shade: "ground" });
    const parts = plain ? [stretch] : dashes(stretch, done ? [4, 10] : [14, 10]).map((points) => ({ points, closed: false }));
    for (const part of parts) items.push({ kind: "area", rings: band(part, width).map(lay), shade });
  }
  if (piece.fold_line && alone) items.push(...foldItems(piece.fold_line, clip, lay, shade, width));
  if (!done && !elsewhere) items.push(...innerItems(piece, clip, lay, shade, look, width));
  const sides = done || elsewhere ? [] : (window.part.find((p) => p.key === piece.key)?.sides ?? []);
  items.push(...bars(sides, window, seen, lay, shade));
  items.push(...labelItems(piece, window, lay, { choices: labelChoices(piece, { count, done, elsewhere, sides }), shade, look, pens }));
  return items;
}

/** The line the other way round: its band then lies inside. @param {import("./lines.js").Line} line @returns {import("./lines.js").Line} */
function backwards({ points, closed }) {
  return { points: [...points].reverse(), closed };
}

/**
 * The stretches of a line inside the window; the whole line, closed, when all of it is.
 * @param {import("./lines.js").Line} line
 * @param {Box} clip
 * @returns {import("./lines.js").Line[]}
 */
function stretches(line, clip) {
  const within = clipLine(line.closed ? [...line.points, line.points[0]] : line.points, clip);
  if (!line.closed) return within.map((points) => ({ points, closed: false }));
  if (within.length === 1 && within[0].length === line.points.length + 1) return [line];
  // Start where the line is outside, so that no stretch is broken at the first point.
  const [x0, y0, x1, y1] = clip;
  const out = line.points.findIndex(([x, y]) => x < x0 || x > x1 || y < y0 || y > y1);
  const from = Math.max(out, 0);
  const turned = [...line.points.slice(from), ...line.points.slice(0, from + 1)];
  return clipLine(turned, clip).map((points) => ({ points, closed: false }));
}

/**
 * @param {Piece} piece
 * @param {Box} clip
 * @param {(points: Point[]) => Point[]} lay
 * @param {Shade} shade
 * @param {Look} look
 * @param {number} width
 * @returns {Item[]}
 */
function innerItems(piece, clip, lay, shade, look, width) {
  /** @type {Item[]} */
  const items = [];
  /** @param {Point[]} line @param {number} w */
  const draw = (line, w) => {
    for (const part of clipLine(line, clip)) items.push({ kind: "path", points: lay(part), width: w, shade });
  };
  if (look.net && piece.net_line.length > 2) {
    for (const dash of dashes({ points: piece.net_line, closed: true }, NET_DASH)) draw(dash, width * 0.5);
  }
  for (const notch of piece.notches) for (const stroke of notchStrokes(notch)) draw(stroke, width);
  const both = piece.grain_rule !== "one way";
  const { shaft, heads } = arrow(piece.grain[0], piece.grain[1], { size: 22, both });
  draw(shaft, width * 0.75);
  for (const head of heads) if (head.every((p) => inBox(p, clip))) items.push({ kind: "area", rings: [lay(head)], shade });
  for (const mark of piece.marks) {
    if (mark.points.length === 1) {
      const [x, y] = mark.points[0];
      draw([[x - 6, y - 6], [x + 6, y + 6]], width * 0.75);
      draw([[x - 6, y + 6], [x + 6, y - 6]], width * 0.75);
    } else {
      for (const dash of dashes({ points: mark.points, closed: false }, [16, 5, 3, 5])) draw(dash, width * 0.5);
    }
  }
  return items;
}

/**
 * Where a piece goes on beyond the window: a bar across each break of its cut line.
 * @param {string[]} sides
 * @param {Window} window
 * @param {import("./lines.js").Line[]} seen
 * @param {(points: Point[]) => Point[]} lay
 * @param {Shade} shade
 * @returns {Item[]}
 */
function bars(sides, window, seen, lay, shade) {
  const [x0, y0, x1, y1] = window.box;
  /** @type {Record<string, [0 | 1, number]>} */
  const edges = { x0: [0, x0], x1: [0, x1], y0: [1, y0], y1: [1, y1] };
  return sides.flatMap((side) => {
    const [axis, level] = edges[side];
    const ends = seen.flatMap((s) => (s.closed ? [] : [s.points[0], s.points[s.points.length - 1]]));
    return ends.filter((p) => Math.abs(p[axis] - level) < 0.5).map((p) => {
      const at = p[1 - axis];
      /** @type {Point[]} */
      const bar = axis === 0 ? [[level, at - 12], [level, at + 12]] : [[at - 12, level], [at + 12, level]];
      return /** @type {Item} */ ({ kind: "path", points: lay(bar), width: 5, shade });
    });
  });
}
