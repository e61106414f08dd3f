/**
 * What of a change can be moved on the drawing: the ends of a cut and its bow, the place of a dart,
 * the level of a line; and what a click there means. Pure.
 */

/** @import {Kind, Wish} from "./wishes.js" */
/** @import {Place} from "./places.js" */
/** @import {PieceView, XY} from "../wire.js" */
/** @import {Handle} from "../draw/handles.js" */
/** @import {System} from "../units.js" */
import { nearestAlong, pointAlong } from "../geometry.js";
import { toStep } from "../units.js";
import { countedFrom, edgeOf, fromStart, grainUp, nearestPlace } from "./places.js";
import { bowPoint, endPoint, heightOn, leftOf } from "./wishes.js";

/** @typedef {{len: (mm: number) => string, set: (change: Partial<Wish>) => void}} Hand */

/**
 * @param {Kind} kind
 * @param {() => Wish} now
 * @param {PieceView} p
 * @param {Hand} hand
 * @returns {Handle[]}
 */
export function changeHandles(kind, now, p, hand) {
  const wish = now();
  if (kind === "move dart") return placeHandle("change-handle-place", "Where the dart opens", () => now().place, (place) => hand.set({ place }), p, hand);
  if (kind === "lengthen") return [levelHandle(now, p, hand)];
  if (kind !== "split") return [];
  const ends = /** @type {const} */ (["start", "end"]).flatMap((which) =>
    wish[which].dart
      ? []
      : placeHandle(`change-handle-${which}`, which === "start" ? "Where the cut begins" : "Where the cut ends", () => now()[which].place, (place) => hand.set({ [which]: { dart: "", place } }), p, hand),
  );
  const [a, b] = [endPoint(wish.start, p), endPoint(wish.end, p)];
  return a && b ? [...ends, bowHandle(now, a, b, hand)] : ends;
}

/** @param {string} id @param {string} label @param {() => Place} now @param {(place: Place) => void} set @param {PieceView} p @param {Hand} hand @returns {Handle[]} */
function placeHandle(id, label, now, set, p, hand) {
  const place = now();
  const edge = edgeOf(p, place.edge);
  if (!edge) return [];
  const value = fromStart(edge, place);
  return [{
    id,
    label: `${label}, on ${edge.name}`,
    at: pointAlong(edge.points, value),
    value,
    least: 0,
    most: edge.length_mm,
    text: `${hand.len(place.mm)} from the ${place.from} of ${edge.name}`,
    read: (q) => nearestAlong(q, edge.points).mm,
    now: () => fromStart(edge, now()),
    zero: place.from === "end" ? edge.length_mm : 0,
    move: (mm) => set({ ...now(), mm: countedFrom(edge, now().from, mm) }),
  }];
}

/** @param {() => Wish} now @param {XY} a @param {XY} b @param {Hand} hand @returns {Handle} */
function bowHandle(now, a, b, hand) {
  const wish = now();
  const most = Math.hypot(b[0] - a[0], b[1] - a[1]) / 2;
  return {
    id: "change-handle-bow",
    label: "How far the cut bows",
    at: bowPoint(wish, a, b),
    value: wish.bow,
    least: -most,
    most,
    text: wish.bow === 0 ? "straight" : `${hand.len(Math.abs(wish.bow))} to the ${wish.bow > 0 ? "left" : "right"}`,
    read: (q) => leftOf(q, a, b),
    now: () => now().bow,
    move: (bow) => hand.set({ bow }),
  };
}

/** @param {() => Wish} now @param {PieceView} p @param {Hand} hand @returns {Handle} */
function levelHandle(now, p, hand) {
  const wish = now();
  const up = grainUp(p);
  const right = /** @type {XY} */ ([up[1], -up[0]]);
  const points = p.edges.flatMap((e) => e.points);
  const along = points.map((q) => q[0] * right[0] + q[1] * right[1]);
  const middle = (Math.min(...along) + Math.max(...along)) / 2;
  const { low, whole } = heightOn(p);
  return {
    id: "change-handle-level",
    label: "Height of the line",
    at: [up[0] * (low + wish.level) + right[0] * middle, up[1] * (low + wish.level) + right[1] * middle],
    value: wish.level,
    least: 0,
    most: whole,
    text: `${hand.len(wish.level)} above the lowest point`,
    read: (q) => heightOn(p, q).at,
    now: () => now().level,
    move: (level) => hand.set({ level }),
  };
}

/**
 * What a click on the drawing changes, or null.
 * @param {Kind} kind @param {Wish} wish @param {PieceView} p @param {XY} at @param {"" | "start" | "end"} aiming @param {System} system
 * @returns {Partial<Wish> | null}
 */
export function clicked(kind, wish, p, at, aiming, system) {
  if (kind === "lengthen") return { level: toStep(heightOn(p, at).at, system) };
  const place = nearestPlace(p, at, system, (e) => kind !== "move dart" || e.kind !== "fold");
  if (!place) return null;
  if (kind === "move dart") return { place };
  if (kind === "split" && aiming) return { [aiming]: { ...wish[aiming], dart: "", place } };
  return null;
}
