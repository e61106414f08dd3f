// Where the light is good to cut by: the same shapes for the panel's drawing and for the table itself.

import { dashes } from "../table/lines.js";

/** @typedef {import("../table/map.js").TablePoint} Point */
/** @typedef {import("../table/scene.js").Item} Item */
/** @typedef {{state: string, words: string, rings: Point[][], label_at: Point, room_mm: number, hatch: Point[][]}} Zone */
/** @typedef {{lit: Point[], zones: Zone[], levels: {mm: number, lines: Point[][]}[], boards: Point[][], share: number, words: string}} Coverage */

const SVG = "http://www.w3.org/2000/svg";

/** Letters are about so wide for their capitals' height. */
const LETTER = 0.85;

/**
 * Shapes in table mm: the rim of what is good to cut by (heavy), hatching where it is not, lines of
 * equal error (dashed), where the sheet lay (dotted), and words where they have room.
 * @param {Coverage} found
 * @param {number} cap  height of capitals, mm
 * @returns {Item[]}
 */
export function coverageItems(found, cap) {
  /** @type {Item[]} */
  const items = [];
  const thin = cap / 15;
  /** @param {Point[]} points @param {number} width @param {boolean} [closed] */
  const line = (points, width, closed = false) => items.push({ kind: "path", points, closed, width: width * thin, shade: "line" });
  /** @param {Point[]} points @param {boolean} closed @param {number[]} pattern @param {number} width */
  const dashed = (points, closed, pattern, width) => {
    for (const dash of dashes({ points, closed }, pattern.map((mm) => mm * thin))) line(dash, width);
  };
  for (const zone of found.zones) for (const stroke of zone.hatch) line(stroke, 0.7);
  for (const zone of found.zones) if (zone.state === "good") for (const ring of zone.rings) line(ring, 3, true);
  for (const board of found.boards) dashed(board, true, [3, 5], 1.5);
  for (const level of found.levels) for (const points of level.lines) dashed(points, false, [14, 8], 1.2);
  for (const level of found.levels) {
    const points = level.lines.reduce((a, b) => (lengthOf(b) > lengthOf(a) ? b : a), []);
    if (lengthOf(points) > 6 * cap) words(items, `${level.mm} mm`, halfway(points), cap);
  }
  for (const zone of found.zones) {
    if (zone.room_mm > 1.2 * cap && zone.room_mm * 2.6 > LETTER * cap * zone.words.length) words(items, zone.words, zone.label_at, cap);
  }
  return items;
}

/** Words on ground of their own, so that no line runs through them. @param {Item[]} items @param {string} text @param {Point} at @param {number} cap */
function words(items, text, [x, y], cap) {
  const [w, h] = [0.5 * LETTER * cap * text.length + 0.4 * cap, 0.95 * cap];
  items.push({ kind: "area", rings: [[[x - w, y - h], [x + w, y - h], [x + w, y + h], [x - w, y + h]]], shade: "ground" });
  items.push({ kind: "text", lines: [text], at: [x, y - cap / 2], cap, turn: 0, anchor: "middle", shade: "line" });
}

/** @param {Point[]} line */
function lengthOf(line) {
  return line.slice(1).reduce((sum, [x, y], i) => sum + Math.hypot(x - line[i][0], y - line[i][1]), 0);
}

/** The place halfway along. @param {Point[]} line @returns {Point} */
export function halfway(line) {
  let left = lengthOf(line) / 2;
  for (let i = 1; i < line.length; i += 1) {
    const [[ax, ay], [bx, by]] = [line[i - 1], line[i]];
    const step = Math.hypot(bx - ax, by - ay);
    if (left <= step && step > 0) return [ax + ((bx - ax) * left) / step, ay + ((by - ay) * left) / step];
    left -= step;
  }
  return line[line.length - 1];
}

/** The drawing for the panel, near side of the table below. @param {Coverage} found @returns {SVGElement} */
export function coverageDrawing(found) {
  const xs = found.lit.map((p) => p[0]);
  const ys = found.lit.map((p) => p[1]);
  const [x0, x1, y0, y1] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
  const cap = (x1 - x0) / 48;
  const svg = make("svg", {
    viewBox: [x0 - cap, -y1 - cap, x1 - x0 + 2 * cap, y1 - y0 + 2 * cap].map((v) => v.toFixed(1)).join(" "),
    role: "img", "aria-label": `The light from above, your side below. ${found.words}`, class: "coverage",
  });
  svg.append(make("polygon", { points: points(found.lit), class: "lit" }));
  for (const item of coverageItems(found, cap)) svg.append(drawn(item));
  return svg;
}

/** @param {Item} item */
function drawn(item) {
  if (item.kind === "text") {
    const text = make("text", { x: item.at[0].toFixed(1), y: (-item.at[1]).toFixed(1), "font-size": (item.cap / 0.68).toFixed(1), "text-anchor": "middle" });
    text.textContent = item.lines.join(" ");
    return text;
  }
  if (item.kind === "area") return make("polygon", { points: points(item.rings[0]), class: "behind" });
  return make(item.closed ? "polygon" : "polyline", { points: points(item.points), "stroke-width": item.width.toFixed(2), class: "line" });
}

/** @param {Point[]} line */
function points(line) {
  return line.map(([x, y]) => `${x.toFixed(1)},${(-y).toFixed(1)}`).join(" ");
}

/** @param {string} tag @param {Record<string, string>} attributes @returns {SVGElement} */
function make(tag, attributes) {
  const made = /** @type {SVGElement} */ (document.createElementNS(SVG, tag));
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  return made;
}
