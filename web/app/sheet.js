/**
 * Changes of a piece sheet: pure functions from sheet to sheet; the old one stays as it was.
 *
 * A sheet says an outline in one of three forms (edges, a rectangle, points); what is said of an edge
 * lives on the edge itself or under `sides`. Lengths are written with their unit, so the sheet's own
 * unit never matters.
 */

import { MM_PER, parseLength } from "./units.js";
/** @import {AllowanceState, EdgeKind, Sheet, XY} from "./wire.js" */

/**
 * @typedef {object} EdgeChange
 * @property {{state: AllowanceState, width_mm: number, end_width_mm?: number | null, steps?: readonly [number, number][]}} [allowance]
 * @property {EdgeKind} [kind]
 * @property {number} [inlay_mm]
 * @property {readonly string[]} [partners] "piece/edge", in the order in which they lie along the edge
 * @property {readonly string[]} [run] the edges that are sewn on as one
 * @property {number} [ease_mm]
 * @property {string} [corner] at the edge's end
 * @property {string} [pressed]
 * @property {readonly number[]} [folds_mm]
 */
/** @typedef {{name?: string, cloth?: string, grain?: "up" | "along", grain_rule?: string, drawn?: "net" | "cut", count?: {drawn: number, turned: number}}} PieceChange */

const FORMAT = "grainfold piece sheet";
const RECTANGLE_SIDES = ["bottom", "right", "top", "left"];

/** A length as a sheet says it, with its unit. @param {number} mm */
export const said = (mm) => `${Number(mm.toFixed(4))} mm`;

/**
 * @param {Sheet} sheet
 * @param {string} piece its name
 * @param {PieceChange} change
 * @returns {Sheet}
 */
export const changePiece = (sheet, piece, change) => changePieceRaw(sheet, piece, change);

/** @param {Sheet} sheet @param {string} piece @param {Record<string, any>} change @returns {Sheet} */
const changePieceRaw = (sheet, piece, change) => mapPiece(sheet, piece, (p) => ({ ...p, ...change }));

/**
 * @param {Sheet} sheet
 * @param {string} piece
 * @param {{name: string, index: number}} edge as the service showed it
 * @param {EdgeChange} change
 * @returns {Sheet}
 */
export function changeEdge(sheet, piece, edge, change) {
  /** @type {Record<string, unknown>} */
  const written = {};
  if (change.kind) written.kind = change.kind;
  if (change.inlay_mm !== undefined) written.inlay = said(change.inlay_mm);
  if (change.partners) written.partner = saidRow(change.partners);
  if (change.run) written.run = change.run;
  if (change.ease_mm !== undefined) written.ease = said(change.ease_mm);
  if (change.corner) written.corner = change.corner;
  if (change.pressed) written.pressed = change.pressed;
  if (change.folds_mm) written.folds = change.folds_mm.map(said);
  if (change.allowance) written.allowance = saidAllowance(change.allowance);
  return mapPiece(sheet, piece, (p) => ({ ...p, outline: changedOutline(p.outline, edge, written) }));
}

/** One partner as a text, a row as a list; so is a name that would be read as a row. @param {readonly string[]} row */
const saidRow = (row) => (row.length > 1 || row[0]?.includes(" + ") ? row : row[0] ?? "");

/** @param {NonNullable<EdgeChange["allowance"]>} allowance */
const saidAllowance = ({ state, width_mm, end_width_mm = null, steps = [] }) =>
  state === "none"
    ? "none"
    : {
        state,
        width: said(width_mm),
        ...(end_width_mm === null ? {} : { end_width: said(end_width_mm) }),
        ...(steps.length ? { steps: steps.map(([at, width]) => [said(at), said(width)]) } : {}),
      };

/** @param {Record<string, any>} outline @param {{name: string, index: number}} edge @param {Record<string, unknown>} written */
function changedOutline(outline, edge, written) {
  if (outline.edges) {
    const named = outline.edges.findIndex((/** @type {any} */ e) => e.name === edge.name);
    const at = named >= 0 ? named : edge.index;
    return {
      ...outline,
      edges: outline.edges.map((/** @type {any} */ e, /** @type {number} */ i) => (i === at ? { ...e, ...written } : e)),
    };
  }
  const sides = outline.sides ?? {};
  const key = sideKey(outline, edge);
  return { ...outline, sides: { ...sides, [key]: { ...sides[key], ...written } } };
}

/** @param {Record<string, any>} outline a rectangle or points @param {{name: string, index: number}} edge */
function sideKey(outline, edge) {
  const sides = outline.sides ?? {};
  const named = Object.keys(sides).find((k) => sides[k].name === edge.name);
  return named ?? (outline.rectangle ? RECTANGLE_SIDES[edge.index] : String(edge.index + 1));
}

/** What a piece came from, as its sheet remembers it; empty where nothing is said. @param {Sheet} sheet @param {string} piece @returns {string} */
export const originOf = (sheet, piece) => pieceOf(sheet, piece)?.origin ?? "";

/** @typedef {{edge: string, distance_mm: number, from: "start" | "end", marks: number, name: string}} NotchSaid */

/** @param {Sheet} sheet @param {string} piece @returns {NotchSaid[]} the notches of a piece as the sheet says them */
export const notchesOf = (sheet, piece) =>
  (pieceOf(sheet, piece)?.notches ?? []).map((/** @type {any} */ n) => ({
    edge: n.edge,
    distance_mm: typeof n.distance === "number" ? n.distance * MM_PER[sheet.unit] : parseLength(n.distance, sheet.unit),
    from: n.from ?? "start",
    marks: n.marks ?? 1,
    name: n.name ?? "",
  }));

/** @param {Sheet} sheet @param {string} piece @param {readonly NotchSaid[]} notches @returns {Sheet} */
export const withNotches = (sheet, piece, notches) =>
  changePieceRaw(sheet, piece, {
    notches: notches.map((n) => ({
      edge: n.edge,
      distance: said(n.distance_mm),
      from: n.from,
      marks: n.marks,
      ...(n.name ? { name: n.name } : {}),
    })),
  });

/** @param {Sheet} sheet @param {string} name @returns {Record<string, any> | undefined} */
const pieceOf = (sheet, name) => sheet.pieces.find((/** @type {any} */ p) => p.name === name);

/** @param {Sheet} sheet @param {string} piece @returns {Sheet} */
export const withoutPiece = (sheet, piece) => ({
  ...sheet,
  pieces: sheet.pieces.filter((/** @type {any} */ p) => p.name !== piece),
});

/** @param {Sheet} sheet @param {Record<string, any>} piece @returns {Sheet} */
export const withPiece = (sheet, piece) => ({ ...sheet, pieces: [...sheet.pieces, piece] });

/** @param {Sheet} sheet @param {string} name @param {(piece: Record<string, any>) => Record<string, any>} change */
const mapPiece = (sheet, name, change) => ({
  ...sheet,
  pieces: sheet.pieces.map((/** @type {any} */ p) => (p.name === name ? change(p) : p)),
});

/**
 * @typedef {object} Panel a panel from a tape measure
 * @property {string} name
 * @property {"rectangle" | "points"} form
 * @property {number} width_mm across
 * @property {number} length_mm along the grain
 * @property {XY[]} points mm, in order round the panel
 * @property {number} allowance_mm added all round; 0 = none
 * @property {"pair" | "drawn" | "two" | "fold"} count
 * @property {string} cloth
 */

/** @param {Panel} panel @returns {Record<string, any>} the panel as a piece of a sheet */
export function panelPiece(panel) {
  const rectangle = panel.form === "rectangle";
  const keys = rectangle ? RECTANGLE_SIDES : panel.points.map((_, i) => String(i + 1));
  const allowance = panel.allowance_mm > 0 ? { state: "add", width: said(panel.allowance_mm) } : "none";
  const fold = panel.count === "fold" ? (rectangle ? "left" : keys[keys.length - 1]) : "";
  return {
    name: panel.name,
    cloth: panel.cloth,
    drawn: "net",
    grain: "up",
    count:
      panel.count === "pair" ? { pair: 1 }
      : panel.count === "fold" ? { "on fold": 1 }
      : { drawn: panel.count === "two" ? 2 : 1 },
    outline: {
      ...(rectangle
        ? { rectangle: { width: said(panel.width_mm), length: said(panel.length_mm) } }
        : { points: panel.points.map((p) => p.map(saidSigned)) }),
      sides: Object.fromEntries(keys.map((k) => [k, k === fold ? { kind: "fold" } : { allowance }])),
    },
    origin: "measured with a tape",
  };
}

/** @param {number} mm */
const saidSigned = (mm) => (mm < 0 ? `-${said(-mm)}` : said(mm));

/** @param {string} style @param {Record<string, any>[]} pieces @returns {Sheet} */
export const newSheet = (style, pieces) => ({ format: FORMAT, version: 1, unit: "mm", style, pieces });

/** @param {Sheet} sheet @param {readonly import("./wire.js").Measure[]} measures mm @returns {Sheet} the sheet with the body's measures that it is held against */
export const withMeasures = (sheet, measures) => ({
  ...sheet,
  body: {
    ...sheet.body,
    measures: measures.map(({ leave_out = [], count_in = [], ...m }) => ({
      ...m,
      body: said(m.body),
      ease: saidSigned(m.ease),
      below: said(m.below),
      ...(leave_out.length ? { leave_out } : {}),
      ...(count_in.length ? { count_in } : {}),
    })),
  },
});
