/**
 * What of a change can be moved on the drawing: the ends of a cut and the points on its way, the
 * place of a dart, the level of a line; and what a click there means. Pure.
 */

/** @import {Aside, Kind, Wish} from "./wishes.js" */
/** @import {Place} from "./places.js" */
/** @import {PieceView, XY} from "../wire.js" */
/** @import {Handle} from "../draw/handles.js" */
/** @import {System} from "../units.js" */
import { bounds, inside, nearestAlong, pointAlong } from "../geometry.js";
import { toStep } from "../units.js";
import { countedFrom, edgeOf, fromStart, grainUp, nearestPlace } from "./places.js";
import { asideOf, endPoint, heightOn, pointAside, wayFrom } from "./wishes.js";

/** @typedef {"" | "start" | "way"} Aiming what the next click sets: where a cut begins; a point on its way, or where it ends */

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
  return [...ends, ...(wish.way === "straight" ? [] : wish.through.flatMap((_, i) => throughHandle(now, i, p, hand)))];
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

/** A point on a cut's way: it is moved anywhere, in whole steps along the straight line and square to it. @param {() => Wish} now @param {number} i @param {PieceView} p @param {Hand} hand @returns {Handle[]} */
function throughHandle(now, i, p, hand) {
  const [a, b] = [endPoint(now().start, p), endPoint(now().end, p)];
  if (!a || !b) return [];
  const place = now().through[i];
  const whole = Math.hypot(b[0] - a[0], b[1] - a[1]);
  /** @param {Aside} to */
  const put = (to) => hand.set({ through: now().through.map((was, k) => (k === i ? to : was)) });
  return [{
    id: `change-handle-through-${i}`,
    label: `Point ${i + 1} of the cut`,
    at: pointAside(place, a, b),
    value: place.along,
    least: Math.min(0, place.along),
    most: Math.max(whole, place.along),
    text: `${hand.len(place.along)} along the straight line, ${hand.len(Math.abs(place.left))} to its ${place.left < 0 ? "right" : "left"}`,
    read: (q) => asideOf(q, a, b).along,
    now: () => now().through[i]?.along ?? 0,
    move: (along) => put({ ...now().through[i], along }),
    moveFree: (q, system) => {
      const { along, left } = asideOf(q, a, b);
      put({ along: toStep(along, system), left: toStep(left, system) });
    },
    nudge: ([dx, dy], by, system) => {
      const [x, y] = wayFrom(a, b);
      const [ahead, aside] = [dx * x + dy * y, dy * x - dx * y];
      const { along, left } = now().through[i];
      // An arrow key moves it along the line or square to it, whichever lies nearer to the arrow.
      if (Math.abs(ahead) >= Math.abs(aside)) put({ along: toStep(along + Math.sign(ahead) * by, system), left });
      else put({ along, left: toStep(left + Math.sign(aside) * by, system) });
    },
  }];
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

/** A click nearer to the outline than this share of the piece's longer side means the outline. */
const NEAR_SHARE = 0.04;

/**
 * What a click on the drawing changes, or null.
 * @param {Kind} kind @param {Wish} wish @param {PieceView} p @param {XY} at @param {Aiming} aiming @param {System} system
 * @returns {Partial<Wish> | null}
 */
export function clicked(kind, wish, p, at, aiming, system) {
  if (kind === "lengthen") return { level: toStep(heightOn(p, at).at, system) };
  const place = nearestPlace(p, at, system, (e) => kind !== "move dart" || e.kind !== "fold");
  if (!place) return null;
  if (kind === "move dart") return { place };
  if (kind !== "split" || !aiming) return null;
  if (aiming === "start") return { start: { dart: "", place }, way: "straight", through: [] };
  if (!onItsWay(p, at)) return { end: { dart: "", place }, through: within(wish, p, place, system) };
  const [a, b] = [endPoint(wish.start, p), endPoint(wish.end, p)];
  if (!a || !b) return null;
  const { along, left } = asideOf(at, a, b);
  const through = [...wish.through, { along: toStep(along, system), left: toStep(left, system) }];
  return { way: wish.way === "straight" ? "curve" : wish.way, through };
}

/** The points on the way as counted towards another end: they stay where they were clicked. @param {Wish} wish @param {PieceView} p @param {Place} end @param {System} system @returns {Aside[]} */
function within(wish, p, end, system) {
  const [a, b, next] = [endPoint(wish.start, p), endPoint(wish.end, p), endPoint({ dart: "", place: end }, p)];
  if (!a || !b || !next) return wish.through;
  return wish.through.map((place) => {
    const { along, left } = asideOf(pointAside(place, a, b), a, next);
    return { along: toStep(along, system), left: toStep(left, system) };
  });
}

/** Whether a click lies well inside a piece, as a point that a cut passes. @param {PieceView} p @param {XY} at */
export function onItsWay(p, at) {
  const ring = p.edges.flatMap((e) => e.points);
  const box = bounds(ring);
  const near = NEAR_SHARE * Math.max(box.x1 - box.x0, box.y1 - box.y0);
  return inside(at, ring) && p.edges.every((e) => nearestAlong(at, e.points).off > near);
}
