// What is lit beside the layout: crosses to chalk, lines to measure, lines to judge by eye. Pure.

import { boxRing, layer, words } from "./scene.js";

/** @typedef {import("./map.js").TablePoint} Point */
/** @typedef {import("./scene.js").Box} Box */
/** @typedef {import("./scene.js").Item} Item */
/** @typedef {import("./scene.js").Look} Look */
/** @typedef {import("./scene.js").Shade} Shade */
/** @typedef {import("./scene.js").Window} Window */

/**
 * Crosses with letters, for chalk: 60 mm long, open in the middle so that the chalk mark shows.
 * @param {Point[]} crosses  cloth mm
 * @param {Window} window
 * @param {{shade: Shade, look: Look}} how
 * @returns {Item[]}
 */
export function crossItems(crosses, window, { shade, look }) {
  const lay = layer(window);
  return crosses.flatMap(([x, y], i) => {
    /** @type {Item[]} */
    const items = [[[x - 30, y], [x - 3, y]], [[x + 3, y], [x + 30, y]], [[x, y - 30], [x, y - 3]], [[x, y + 3], [x, y + 30]]]
      .map((stroke) => ({ kind: "path", points: lay(/** @type {Point[]} */ (stroke)), width: 2, shade }));
    items.push(words([String.fromCharCode(80 + i)], lay([[x + 20, y + 20]])[0], look, shade));
    return items;
  });
}

/**
 * Where the cloth is cut straight across before the rest of it is opened out.
 * @param {number} x  cloth mm
 * @param {Window} window
 * @param {{shade: Shade, look: Look}} how
 * @returns {Item[]}
 */
export function acrossItems(x, window, { shade, look }) {
  const [x0, y0, x1, y1] = window.box;
  if (x < x0 || x > x1) return [];
  const lay = layer(window);
  const said = lay([[Math.max(x0 + 130, x - 150), (y0 + y1) / 2]])[0];
  return [{ kind: "path", points: lay([[x, y0], [x, y1]]), width: look.width_mm, shade }, words(["cut across here"], said, look, shade)];
}

/**
 * A line of known length with ticks at its ends; its outer tick edges are the ends.
 * @param {{from: Point, to: Point, label: string}} line  table mm
 * @param {{shade: Shade, look: Look}} how
 * @returns {Item[]}
 */
export function checkItems({ from, to, label }, { shade, look }) {
  const length = Math.hypot(to[0] - from[0], to[1] - from[1]);
  const [ux, uy] = [(to[0] - from[0]) / length, (to[1] - from[1]) / length];
  /** @param {Point} p @param {number} along @param {number} across @returns {Point} */
  const off = (p, along, across) => [p[0] + along * ux - across * uy, p[1] + along * uy + across * ux];
  /** @type {Item[]} */
  const items = [];
  for (const [end, inward] of /** @type {[Point, number][]} */ ([[from, 1], [to, -1]])) {
    const tick = [off(end, 0, -20), off(end, 2 * inward, -20), off(end, 2 * inward, 20), off(end, 0, 20)];
    items.push({ kind: "area", rings: [tick], shade });
  }
  items.push({ kind: "path", points: [off(from, 2, 0), off(to, -2, 0)], width: 1, shade });
  const turn = Math.atan2(uy, ux);
  const upright = turn > Math.PI / 2 + 1e-9 || turn < -Math.PI / 2 + 1e-9 ? turn + Math.PI : turn;
  const middle = off([(from[0] + to[0]) / 2, (from[1] + to[1]) / 2], 0, turn === upright ? 10 : -10);
  items.push({
    kind: "text", lines: [label], at: look.turned ? off(middle, 0, -20) : middle, cap: look.cap_mm,
    turn: upright + (look.turned ? Math.PI : 0), anchor: "middle", shade,
  });
  return items;
}

/**
 * Line samples to judge by eye on the cloth: each light in each width, lit on unlit and unlit on lit.
 * @param {Box} room
 * @param {{name: string, css: string}[]} lights
 * @param {{look: Look}} how
 * @returns {Item[]}
 */
export function stripItems(room, lights, { look }) {
  const widths = [1, 1.5, 2, 3];
  /** @type {Item[]} */
  const items = [];
  const [w, h] = [(room[2] - room[0]) / lights.length, 130];
  const top = (room[1] + room[3]) / 2 + h + 20;
  lights.forEach((light, column) => {
    const x = room[0] + column * w + 10;
    for (const lit of [false, true]) {
      const y = lit ? top - 2 * h - 40 : top - h;
      const css = /** @type {Shade} */ (light.css);
      if (lit) items.push({ kind: "area", rings: [boxRing([x, y, x + w - 20, y + h])], shade: css });
      const shade = /** @type {Shade} */ (lit ? "#000000" : css);
      widths.forEach((width, i) => {
        const at = y + 20 + i * 26;
        items.push({ kind: "path", points: [[x + 10, at], [x + w * 0.6, at]], width, shade });
        items.push({ kind: "text", lines: [`${width} mm`], at: [x + w * 0.63, at - 6], cap: look.cap_mm, turn: 0, anchor: "start", shade });
      });
    }
    items.push({ kind: "text", lines: [light.name], at: [x + 10, top + 12], cap: look.cap_mm, turn: 0, anchor: "start", shade: /** @type {Shade} */ (light.css) });
  });
  return items;
}
