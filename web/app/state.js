/**
 * What the desk knows and how it changes: pure functions from value to value, tested without a browser.
 */

/** @import {ClothRequest, SpotRequest, ClothResult, LayDetail, LayRequest, Moment, Placement, XY, Zone} from "./wire.js" */
/** @import {System} from "./units.js" */
import { bounds } from "./geometry.js";
import { MM_PER } from "./units.js";

// --- Where we are -----------------------------------------------------------------------------

/** @typedef {"pieces" | "piece" | "cloth" | "layout" | "buy" | "table"} PageName */
/** @typedef {{page: PageName, style?: string, piece?: string, lay?: string, cloth?: string}} Route */

/**
 * @param {string} hash such as `#/layout/LAY/shell`
 * @returns {Route}
 */
export function parseRoute(hash) {
  const [page, first, second] = hash.replace(/^#\/?/, "").split("/").map(decode);
  switch (page) {
    case "pieces":
      return second ? { page: "piece", style: first, piece: second } : { page: "pieces", style: first };
    case "cloth":
      return { page: "cloth", style: first };
    case "layout":
      return { page: "layout", lay: first, cloth: second };
    case "buy":
      return { page: "buy", lay: first };
    case "table":
      return { page: "table", lay: first };
    default:
      return { page: "pieces" };
  }
}

/** @param {Route} route @returns {string} the hash for a route */
export function routeHash(route) {
  /** @type {(string | undefined)[]} */
  const parts =
    route.page === "piece" ? ["pieces", route.style, route.piece]
    : route.page === "pieces" || route.page === "cloth" ? [route.page, route.style]
    : route.page === "layout" ? [route.page, route.lay, route.cloth]
    : [route.page, route.lay];
  return `#/${parts.filter((p) => p !== undefined && p !== "").map((p) => encodeURIComponent(/** @type {string} */ (p))).join("/")}`;
}

/** @param {string | undefined} part */
function decode(part) {
  if (!part) return undefined;
  try {
    return decodeURIComponent(part);
  } catch {
    return undefined;
  }
}

// --- Cloth as the person completes it -----------------------------------------------------------

/**
 * @typedef {object} SpotChoice a flaw or a missing part, by the tape: along from the raw end, across from the near selvedge's edge; mm
 * @property {number} along_from_mm
 * @property {number} along_to_mm
 * @property {number} across_from_mm
 * @property {number | null} across_to_mm null = to the far selvedge
 * @property {number} margin_mm kept clear all round
 */

/**
 * @typedef {object} ClothChoice one cloth of the lay; lengths mm, shares 0 to 1
 * @property {number} width_mm
 * @property {number | null} measured_width_mm
 * @property {number} selvedge_mm
 * @property {number} shrink_along
 * @property {number} shrink_across
 * @property {boolean} nap
 * @property {string} fold
 * @property {number} repeat_along_mm
 * @property {number} repeat_across_mm
 * @property {boolean} repeat_even the repeat reads the same both ways
 * @property {number} end_allowance_mm
 * @property {number | null} available_mm along the near selvedge
 * @property {number | null} far_length_mm along the far one; null = as long
 * @property {SpotChoice[]} flaws
 * @property {SpotChoice[]} missing only of cloth that is there
 * @property {number | null} price_per_m
 * @property {string} currency
 * @property {number} step_mm
 */

/** Folds that the sentence offers, in the order of a drop-down: wire name, and how it is said. */
export const FOLDS = Object.freeze(
  /** @type {const} */ ([
    ["best", "whichever way takes least"],
    ["open", "open, in one layer"],
    ["lengthwise", "folded lengthwise"],
    ["off-centre", "folded off the centre"],
    ["double", "with both selvedges to the middle"],
    ["crosswise", "folded crosswise"],
  ]),
);

/** Selvedge 12 mm each side: measured usable width is about half an inch less at each edge. */
const SELVEDGE_MM = 12;
const END_MM = 20;

/**
 * @param {System} system
 * @returns {ClothChoice} what a cloth is until told otherwise
 */
export function newCloth(system) {
  const imperial = system === "imperial";
  return {
    width_mm: imperial ? 60 * MM_PER.in : 1500,
    measured_width_mm: null,
    selvedge_mm: SELVEDGE_MM,
    shrink_along: 0,
    shrink_across: 0,
    nap: false,
    fold: "best",
    repeat_along_mm: 0,
    repeat_across_mm: 0,
    repeat_even: false,
    end_allowance_mm: END_MM,
    available_mm: null,
    far_length_mm: null,
    flaws: [],
    missing: [],
    price_per_m: null,
    currency: "€",
    step_mm: shopSteps(system)[0],
  };
}

/** Steps that shops sell by: 10, 25, 50 cm; 1/8, 1/4, 1/2 yd. @param {System} system @returns {number[]} mm */
export const shopSteps = (system) =>
  system === "imperial" ? [MM_PER.yd / 8, MM_PER.yd / 4, MM_PER.yd / 2] : [100, 250, 500];

/**
 * Usable width of the opened cloth: measured x (1 - shrink across) - 2 x selvedge.
 * @param {ClothChoice} cloth
 */
export const usableWidth = (cloth) =>
  (cloth.measured_width_mm ?? cloth.width_mm) * (1 - cloth.shrink_across) - 2 * cloth.selvedge_mm;

/**
 * @param {ClothChoice} cloth
 * @param {System} system how the length to buy is said
 * @returns {ClothRequest}
 */
export function clothRequest(cloth, system) {
  return {
    width: cloth.width_mm,
    measured_width: cloth.measured_width_mm,
    selvedge: cloth.selvedge_mm,
    shrink_along: cloth.shrink_along,
    shrink_across: cloth.shrink_across,
    nap: cloth.nap,
    fold: cloth.fold,
    repeat_along: cloth.repeat_along_mm,
    repeat_across: cloth.repeat_across_mm,
    repeat_even: cloth.repeat_even,
    end_allowance: cloth.end_allowance_mm,
    available: cloth.available_mm,
    far_length: cloth.available_mm === null ? null : cloth.far_length_mm,
    flaws: cloth.flaws.map(spotRequest),
    missing: cloth.available_mm === null ? [] : cloth.missing.map(spotRequest),
    price_per_m: cloth.price_per_m,
    currency: cloth.currency,
    step: cloth.step_mm,
    unit: system === "imperial" ? "yd" : "m",
  };
}

/** @param {SpotChoice} spot @returns {SpotRequest} */
const spotRequest = (spot) => ({
  along_from: spot.along_from_mm,
  along_to: spot.along_to_mm,
  across_from: spot.across_from_mm,
  across_to: spot.across_to_mm,
  margin: spot.margin_mm,
});

/**
 * @param {string} styleId
 * @param {Record<string, ClothChoice>} cloths by role
 * @param {{copies: number, seconds: number, gap_mm: number}} how
 * @param {System} system
 * @returns {LayRequest}
 */
export const layRequest = (styleId, cloths, how, system) => ({
  style_id: styleId,
  copies: how.copies,
  seconds: how.seconds,
  gap_mm: how.gap_mm,
  cloths: Object.fromEntries(Object.entries(cloths).map(([role, c]) => [role, clothRequest(c, system)])),
});

/**
 * The card for the shop: the same lay at another width and direction, for the named roles; the other
 * cloths stay as they were chosen.
 * @param {LayRequest} request
 * @param {readonly string[]} roles
 * @param {number} width_mm
 * @param {boolean} nap
 * @param {number} seconds
 * @returns {LayRequest}
 */
export function cardRequest(request, roles, width_mm, nap, seconds) {
  const { steps: _steps, ...rest } = request;
  const cloths = { ...request.cloths };
  for (const role of roles) {
    cloths[role] = { ...cloths[role], width: width_mm, measured_width: null, available: null, far_length: null, flaws: [], missing: [], nap };
  }
  return { ...rest, seconds, cloths };
}

/** Widths that shops sell: 90, 112, 137, 150 cm (36, 44, 54, 60 in). */
export const SHOP_WIDTHS = Object.freeze([
  { mm: 900, metric: "90 cm", imperial: "36 in" },
  { mm: 1120, metric: "112 cm", imperial: "44 in" },
  { mm: 1370, metric: "137 cm", imperial: "54 in" },
  { mm: 1500, metric: "150 cm", imperial: "60 in" },
]);

// --- A lay while it is searched -------------------------------------------------------------------

/**
 * The lay with one cloth's newer result in place.
 * @param {LayDetail} lay
 * @param {ClothResult} result
 * @returns {LayDetail}
 */
export function withCloth(lay, result) {
  const known = lay.cloths.some((c) => c.cloth === result.cloth);
  const cloths = known
    ? lay.cloths.map((c) => (c.cloth === result.cloth ? result : c))
    : [...lay.cloths, result];
  return { ...lay, cloths };
}

/**
 * The print's repeat that a lay was asked with, mm; the service gives back numbers.
 * @param {LayDetail | null} lay
 * @param {string} role
 */
export function repeatOf(lay, role) {
  const cloth = lay?.request.cloths[role];
  return { along: Number(cloth?.repeat_along ?? 0) || 0, across: Number(cloth?.repeat_across ?? 0) || 0 };
}

/** @param {LayDetail} lay */
export const isOver = (lay) => lay.state === "done" || lay.state === "stopped" || lay.state === "failed";

/**
 * How much of the length could still be saved at the very most, as a share of the length.
 * @param {{length_mm: number, floor_mm: number}} result
 */
export const mostToSave = (result) =>
  result.length_mm > 0 ? Math.max(0, (result.length_mm - result.floor_mm) / result.length_mm) : 0;

/**
 * The curve of length against time as corners of a staircase: the length holds until it is beaten.
 * @param {readonly Moment[]} history in order of time
 * @param {number} until seconds at the right end
 * @returns {[number, number][]} (seconds, mm)
 */
export function staircase(history, until) {
  /** @type {[number, number][]} */
  const corners = [];
  for (const moment of history) {
    if (corners.length) corners.push([moment.seconds, corners[corners.length - 1][1]]);
    corners.push([moment.seconds, moment.length_mm]);
  }
  if (corners.length) corners.push([Math.max(until, corners[corners.length - 1][0]), corners[corners.length - 1][1]]);
  return corners;
}

// --- Where a piece lies -----------------------------------------------------------------------------

/**
 * @typedef {object} Distances mm, from what a tape can touch
 * @property {number} end from the squared end to the piece's nearest point
 * @property {number} end_far from the squared end to its furthest point
 * @property {number | null} fold from the fold to its nearest point, where the zone has a fold along it
 * @property {number} selvedge from the real selvedge edge to its nearest point
 * @property {number} grain_tail grain line's tail, from the same selvedge
 * @property {number} grain_head
 */

/**
 * @param {Placement} placement
 * @param {ClothResult} result
 * @returns {Distances}
 */
export function distances(placement, result) {
  const box = bounds(placement.cut_line);
  const zone = zoneOf(placement, result);
  const [under, over] = [zone.fold_edges.includes("y0"), zone.fold_edges.includes("y1")];
  const [tail, head] = placement.grain;
  // The selvedge lies above a lower fold, below an upper one; on open cloth the nearer side counts.
  const above = under || (!over && zone.y0 > 0);
  /** @param {number} y */
  const fromSelvedge = (y) => (above ? outerY(zone, result) - y : y - zone.y0) + result.selvedge_mm;
  return {
    end: box.x0,
    end_far: box.x1,
    fold: under ? box.y0 - zone.y0 : over ? zone.y1 - box.y1 : null,
    selvedge: fromSelvedge(above ? box.y1 : box.y0),
    grain_tail: tail ? fromSelvedge(tail[1]) : NaN,
    grain_head: head ? fromSelvedge(head[1]) : NaN,
  };
}

/** @param {Placement} placement @param {ClothResult} result @returns {Zone} */
export const zoneOf = (placement, result) =>
  result.zones.find((z) => z.id === placement.zone) ?? result.zones[0];

/**
 * The y of the inner selvedge edge above a zone: the outermost of the zones beside it; on a double fold
 * both selvedges meet at the line between the zones.
 * @param {Zone} zone @param {ClothResult} result
 */
function outerY(zone, result) {
  const beside = result.zones.filter((z) => z === zone || (z.x0 < zone.x1 && zone.x0 < z.x1));
  const ends = beside.map((z) => z.y1);
  return beside.some((z) => z.fold_edges.includes("y1")) ? Math.min(...ends) : Math.max(...ends);
}

/** @typedef {"P" | "D" | "T" | "F"} HandLetter */

/** @param {Placement} p @returns {HandLetter} the letter drawn in a piece */
export const handLetter = (p) =>
  p.on_fold ? "F" : p.hands.length > 1 ? "P" : p.hands[0] === "turned" ? "T" : "D";

/** @type {Readonly<Record<HandLetter, string>>} */
export const HAND_TEXT = Object.freeze({
  P: "a pair, cut through both plies",
  D: "as drawn",
  T: "turned over",
  F: "on the fold, one whole piece",
});

/** A key for one laid piece. @param {Placement} p */
export const pieceKey = (p) => `${p.piece}#${p.copy}#${p.hands.join("+")}`;

// --- A panel from a tape measure ---------------------------------------------------------------------

/**
 * Points typed one a line or separated by `;`: `0 0`, `12,5 0`, `12.5; 30`. A comma between digits
 * inside one number is a decimal sign only when blanks part the two numbers.
 * @param {string} text
 * @returns {XY[]} in the unit typed
 * @throws {Error} naming the line at fault
 */
export function parsePoints(text) {
  const lines = text.split(/[\n;]+/).map((l) => l.trim()).filter(Boolean);
  const points = lines.map((line, i) => {
    const parts = line.includes(" ") || line.includes("\t") ? line.split(/[\s]+/) : line.split(",");
    const numbers = parts.map((p) => Number(p.replace(/,$/, "").replace(",", ".")));
    if (numbers.length !== 2 || numbers.some((n) => !Number.isFinite(n))) {
      throw new Error(`Point ${i + 1}, “${line}”, is not two numbers. Write across and up, like 12.5 30.`);
    }
    return /** @type {XY} */ ([numbers[0], numbers[1]]);
  });
  if (points.length < 3) throw new Error("A panel needs at least three points.");
  return points;
}

// --- Buying --------------------------------------------------------------------------------------------

/**
 * The total price by currency, where every cloth in that currency has one.
 * @param {readonly ClothResult[]} cloths
 * @returns {{currency: string, sum: number}[]}
 */
export function totals(cloths) {
  /** @type {Map<string, number>} */
  const sums = new Map();
  for (const c of cloths) {
    if (c.price !== null) sums.set(c.currency, (sums.get(c.currency) ?? 0) + c.price);
  }
  return [...sums].map(([currency, sum]) => ({ currency, sum }));
}
