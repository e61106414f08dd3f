// How the cloth lies in a window after it was drawn along: offsets typed at the chalked crosses. The
// sums are pure, the panel at the end asks for them.

import { parseLength } from "../units.js";
import { applyMatrix } from "./map.js";
import { element, heading, wrong } from "./panel.js";

/** @typedef {import("./map.js").TablePoint} Point */
/** @typedef {import("./scene.js").Window} Window */
/** @typedef {{window: number, map_id: string, dx_mm: number, dy_mm: number, turn_deg: number, residual_mm: number, matrix: number[][]}} Registered */

/**
 * The window as its cloth really lies: the correction goes before the window's own place.
 * @param {Window} window
 * @param {Registered[]} registered
 * @returns {Window}
 */
export function asItLies(window, registered) {
  const found = registered.find((r) => r.window === window.index);
  return found ? { ...window, table_from_cloth: product(found.matrix, window.table_from_cloth) } : window;
}

/**
 * An offset as written: `1.5`, `-2 mm`, `1/8 in`, empty for none.
 * @param {string} text
 * @returns {number} mm
 */
export function readOffset(text) {
  const said = text.trim().replace(/^[−–]/, "-");
  if (said === "") return 0;
  const sign = said.startsWith("-") ? -1 : 1;
  return sign * parseLength(said.replace(/^[+-]/, ""));
}

/**
 * Where the crosses of the window before are lit in this one, and where their chalk lies.
 * @param {Point[]} crosses  cloth mm
 * @param {Window} window
 * @param {[number, number][]} offsets  of each chalk mark from its light, as seen by the person
 * @param {boolean} turned  the person stands at the far side: right and left change, near and far too
 * @returns {{lit: Point[], chalked: Point[]}}
 */
export function crossPlaces(crosses, window, offsets, turned) {
  const way = turned ? -1 : 1;
  const lit = crosses.map((c) => applyMatrix(window.table_from_cloth, c));
  return { lit, chalked: lit.map(([x, y], i) => [x + way * offsets[i][0], y + way * offsets[i][1]]) };
}

/**
 * The correction in words.
 * @param {Registered} found
 */
export function registeredWords({ dx_mm, dy_mm, turn_deg, residual_mm }) {
  const moved = Math.hypot(dx_mm, dy_mm) < 0.05 && Math.abs(turn_deg) < 0.005;
  if (moved) return "The light stands as it was.";
  return `The light follows the cloth: turned ${Math.abs(turn_deg).toFixed(2)}° ${turn_deg >= 0 ? "left" : "right"}; ${residual_mm.toFixed(1)} mm left over at the crosses.`;
}

/** More than this left over at a cross, mm, and one of the readings or chalk marks is wrong. */
export const LEFT_OVER_MM = 1;

/**
 * @param {number} count  crosses
 * @param {(offsets: [number, number][]) => void} take
 * @param {() => void} close
 * @param {{message: string, hint?: string} | null} refusal
 */
export function registrationPanel(count, take, close, refusal) {
  /** @type {[HTMLInputElement, HTMLInputElement][]} */
  const fields = [];
  const rows = Array.from({ length: count }, (_, i) => {
    const letter = String.fromCharCode(80 + i);
    /** @param {string} name @param {string} said */
    const field = (name, said) => /** @type {HTMLInputElement} */ (element("input", { id: `off-${letter}-${name}`, "aria-label": `${letter}, ${said}`, autocomplete: "off", placeholder: "0" }));
    const pair = /** @type {[HTMLInputElement, HTMLInputElement]} */ ([field("x", "to the right"), field("y", "away from you")]);
    fields.push(pair);
    return element("tr", {}, element("th", { scope: "row" }, letter), element("td", {}, pair[0]), element("td", {}, pair[1]));
  });
  const said = element("div");
  if (refusal) said.append(wrong(refusal));
  const send = () => {
    try {
      take(fields.map(([x, y]) => [readOffset(x.value), readOffset(y.value)]));
    } catch (error) {
      said.replaceChildren(wrong({ message: /** @type {Error} */ (error).message, hint: "Write it as 1.5, -2 mm or 1/8 in." }));
    }
  };
  return [
    heading("Where does the chalk lie?"),
    element("p", {}, "From the middle of each lit cross to its chalk, in mm. To the right and away from you count plus, to the left and towards you minus. Lay the chalk onto the light by hand first: this is for what is left."),
    said,
    element("form", { submit: (e) => { e.preventDefault(); send(); } },
      element("table", {},
        element("thead", {}, element("tr", {}, ...["Cross", "To the right", "Away from you"].map((t) => element("th", { scope: "col" }, t)))),
        element("tbody", {}, ...rows)),
      element("div", { class: "actions" }, element("button", { class: "main" }, "Let the light follow"), element("button", { type: "button", click: close }, "Close"))),
  ];
}

/** @param {number[][]} a @param {number[][]} b */
function product(a, b) {
  return a.map((row) => [0, 1, 2].map((j) => row[0] * b[0][j] + row[1] * b[1][j] + row[2] * b[2][j]));
}
