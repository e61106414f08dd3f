// What is lit, as shapes in table mm: their types, and the helpers that every drawing shares. Pure.

import { applyMatrix, pxPerMm } from "./map.js";
import { clipLine, dashes, hatch } from "./lines.js";

/** @typedef {import("./map.js").TablePoint} Point */
/** @typedef {import("./map.js").TableMap} TableMap */
/** @typedef {[number, number, number, number]} Box x0, y0, x1, y1 */

/**
 * Piece of cloth to be cut; lines in cloth mm, counter-clockwise.
 * @typedef {object} Piece
 * @property {string} key
 * @property {string} label
 * @property {string} piece
 * @property {("drawn" | "turned")[]} hands  what this one cutting yields
 * @property {string} hand_text
 * @property {number} plies
 * @property {string} spread
 * @property {Box} box
 * @property {[Point, Point] | null} fold_line
 * @property {Point} label_at
 * @property {number} label_room_mm
 * @property {Point[]} cut_line
 * @property {Point[]} net_line
 * @property {[Point, Point]} grain
 * @property {string} grain_rule
 * @property {{at: Point, tip: Point, marks: number}[]} notches
 * @property {{kind: string, points: Point[], name: string}[]} marks
 */

/**
 * @typedef {object} Window
 * @property {number} index
 * @property {string} spread
 * @property {Box} box
 * @property {number[][]} table_from_cloth
 * @property {string[]} whole
 * @property {{key: string, sides: string[]}[]} part
 * @property {string[]} first
 * @property {Point[]} crosses
 */

/**
 * @typedef {object} Spread
 * @property {string} id
 * @property {Box} box
 * @property {Point[]} outline
 * @property {string} plies_text
 * @property {[Point, Point][]} fold_lines
 * @property {[Point, Point][]} selvedges
 * @property {[Point, Point] | null} squared_end
 * @property {string} lay_text  how the cloth is laid
 * @property {{line: [Point, Point], said: string}[]} edges  further lines to lay it along
 * @property {number | null} across_mm  where it is cut across before the next spread is opened out
 * @property {{kind: "flaw" | "missing", outline: Point[]}[]} [lacks] known before anything was laid
 */

/**
 * @typedef {object} Projection
 * @property {Box} room
 * @property {Box} strip
 * @property {Spread[]} spreads
 * @property {Window[]} windows
 * @property {Piece[]} pieces
 * @property {string[]} order
 */

/** Shade of a shape: full light, the rest's, the ground, or a colour of its own. @typedef {"line" | "dim" | "ground" | `#${string}`} Shade */

/**
 * @typedef {{kind: "area", rings: Point[][], shade: Shade}
 *   | {kind: "path", points: Point[], closed?: boolean, width: number, shade: Shade}
 *   | {kind: "text", lines: string[], at: Point, cap: number, turn: number, anchor: "start" | "middle" | "end", shade: Shade}} Item
 */

/**
 * @typedef {object} Look  how the person wants it
 * @property {number} width_mm  of a cutting line
 * @property {boolean} net  net lines too
 * @property {boolean} turned  words face the far side
 * @property {number} cap_mm  height of capitals
 */

/**
 * @typedef {object} Pens  what drawing needs to know of the surface
 * @property {TableMap} map
 * @property {(text: string, cap_mm: number) => number} measure  width of a text in mm
 */

/** Thinnest line that keeps its place on a projector's pixels, px (thinner ones shift with gamma). */
export const LEAST_PX = 2;

/** Smallest capitals that can be read on the cloth while standing, mm. */
export const LEAST_CAP_MM = 15;

/** From one line of words to the next, in heights of capitals. */
export const LINE = 1.7;

const FOLD_DASH = [20, 6, 4, 6];

/**
 * A width in mm that is nowhere thinner than LEAST_PX along `points`.
 * @param {TableMap} map
 * @param {Point[]} points  table mm
 * @param {number} width_mm
 */
export function lineWidth(map, points, width_mm) {
  const step = Math.max(1, Math.floor(points.length / 24));
  let least = Infinity;
  for (let i = 0; i < points.length; i += step) {
    if (map.reaches(points[i])) least = Math.min(least, pxPerMm(map, points[i])[0]);
  }
  return Number.isFinite(least) ? Math.max(width_mm, LEAST_PX / least) : width_mm;
}

/** Ring of a box, counter-clockwise. @param {Box} b @returns {Point[]} */
export function boxRing([x0, y0, x1, y1]) {
  return [[x0, y0], [x1, y0], [x1, y1], [x0, y1]];
}

/** Cloth mm to table mm in a window. @param {Window} window @returns {(points: Point[]) => Point[]} */
export function layer(window) {
  return (points) => points.map((p) => applyMatrix(window.table_from_cloth, p));
}

/**
 * @param {[Point, Point]} fold
 * @param {Box} clip
 * @param {(points: Point[]) => Point[]} lay
 * @param {Shade} shade
 * @param {number} width
 * @returns {Item[]}
 */
export function foldItems(fold, clip, lay, shade, width) {
  const [visible] = clipLine(fold, clip);
  if (!visible) return [];
  const [a, b] = [visible[0], visible[visible.length - 1]];
  /** @type {Item[]} */
  const items = dashes({ points: [a, b], closed: false }, FOLD_DASH)
    .map((points) => ({ kind: "path", points: lay(points), width, shade }));
  // Cloth lies on the left of a fold line, so the hatch goes to the right: onto the bare table.
  for (const stroke of hatch(a, b, { every: 40, length: 14 })) items.push({ kind: "path", points: lay(stroke), width: width * 0.75, shade });
  return items;
}

/** @param {string[]} lines @param {Point} at @param {Look} look @param {Shade} shade @returns {Item} */
export function words(lines, at, look, shade) {
  return { kind: "text", lines, at, cap: look.cap_mm, turn: look.turned ? Math.PI : 0, anchor: "middle", shade };
}
