/**
 * Places on a piece: a distance along an edge from one of its ends, found from a point and drawn as one.
 */

/** @import {EdgeView, PieceView, XY} from "../wire.js" */
/** @import {System} from "../units.js" */
import { nearestAlong, pointAlong } from "../geometry.js";
import { toStep } from "../units.js";

/** @typedef {"start" | "end"} EdgeEnd */
/** @typedef {{edge: string, mm: number, from: EdgeEnd}} Place on an edge as drawn */

/** @param {PieceView} piece @param {string} name @returns {EdgeView | undefined} */
export const edgeOf = (piece, name) => piece.edges.find((e) => e.name === name);

/** How far along its edge from the start a place lies, mm; never off the edge. @param {EdgeView} edge @param {{mm: number, from: EdgeEnd}} place */
export const fromStart = (edge, place) =>
  Math.max(0, Math.min(edge.length_mm, place.from === "end" ? edge.length_mm - place.mm : place.mm));

/** A distance from the start as counted from the place's own end. @param {EdgeView} edge @param {EdgeEnd} from @param {number} mm */
export const countedFrom = (edge, from, mm) => {
  const inside = Math.max(0, Math.min(edge.length_mm, mm));
  return from === "end" ? edge.length_mm - inside : inside;
};

/** @param {PieceView} piece @param {Place} place @returns {XY | null} null when there is no such edge */
export function pointOf(piece, place) {
  const edge = edgeOf(piece, place.edge);
  return edge ? pointAlong(edge.points, fromStart(edge, place)) : null;
}

/**
 * The place on the piece's outline nearest to a point, counted from the nearer end of its edge in
 * whole steps of the unit system.
 * @param {PieceView} piece
 * @param {XY} p
 * @param {System} system
 * @param {(edge: EdgeView) => boolean} [may] which edges count
 * @returns {Place | null}
 */
export function nearestPlace(piece, p, system, may = () => true) {
  /** @type {{edge: EdgeView, mm: number, off: number} | null} */
  let best = null;
  for (const edge of piece.edges) {
    if (!may(edge) || edge.points.length < 2) continue;
    const found = nearestAlong(p, edge.points);
    if (!best || found.off < best.off) best = { edge, ...found };
  }
  if (!best) return null;
  const { edge, mm } = best;
  /** @type {EdgeEnd} */
  const from = mm > edge.length_mm / 2 ? "end" : "start";
  return { edge: edge.name, from, mm: Math.min(edge.length_mm, toStep(countedFrom(edge, from, mm), system)) };
}

/** The unit vector along the piece's grain, head up; up the drawing where no grain is drawn. @param {PieceView} piece @returns {XY} */
export function grainUp(piece) {
  if (!piece.grain) return [0, 1];
  const [dx, dy] = [piece.grain.head[0] - piece.grain.tail[0], piece.grain.head[1] - piece.grain.tail[1]];
  const long = Math.hypot(dx, dy) || 1;
  return [dx / long, dy / long];
}
