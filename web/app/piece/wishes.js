/**
 * Changes of a piece as the sentences ask for them: what stands in the blanks at first, what is sent,
 * which lines show it on the drawing. Pure; lengths mm.
 */

/** @import {Change, EdgeView, PieceView, XY} from "../wire.js" */
/** @import {Place} from "./places.js" */
import { bounds, midpoint } from "../geometry.js";
import { edgeOf, fromStart, grainUp, pointOf } from "./places.js";

/** @typedef {{place: Place, dart: string}} End of a cut: on an edge, or at the point of a dart */

/** @typedef {{along: number, left: number}} Aside a place counted along the straight line from where the cut begins to where it ends, and squared out to its left (negative: right) */

/** @typedef {"straight" | "curve" | "corners"} Way straight; one smooth curve through the places; straight from place to place */

/**
 * What stands in the blanks of every change; each kind uses its own.
 * @typedef {object} Wish
 * @property {End} start
 * @property {End} end
 * @property {Way} way
 * @property {Aside[]} through places on the cut's way, in order; a straight cut has no use for them
 * @property {string} first name of the part on the right of the cut
 * @property {string} second
 * @property {string} seam
 * @property {number | null} allowance null: as the piece's own seams
 * @property {string} dart
 * @property {Place} place
 * @property {number} share of the dart that is moved, 0 to 1
 * @property {number} by
 * @property {string} edge
 * @property {number} width
 * @property {number} depth
 * @property {string} upto last edge of a facing
 * @property {string} name
 * @property {string} cloth empty: as the piece
 * @property {number} join seam allowance where a hem facing is joined
 * @property {number} buttons
 * @property {number} diameter
 * @property {number} firstButton
 * @property {number} lastButton
 * @property {boolean} holes
 * @property {number} level above the piece's lowest point, along the grain
 * @property {"upper" | "lower"} moves
 */

/** @typedef {"split" | "move dart" | "shorten dart" | "true dart" | "stand" | "buttons" | "facing" | "hem facing" | "lengthen" | "unfold" | "mirror"} Kind */

/** Kinds of change in the order in which they are offered, as the desk says them. @type {readonly (readonly [Kind, string])[]} */
export const KINDS = Object.freeze([
  ["split", "cut it in two"],
  ["move dart", "close a dart and open it elsewhere"],
  ["shorten dart", "draw a dart's point back"],
  ["true dart", "make a dart's legs equal"],
  ["stand", "add a button stand"],
  ["buttons", "set buttons and buttonholes"],
  ["facing", "make a facing"],
  ["hem facing", "make a hem facing"],
  ["lengthen", "lengthen or shorten it"],
  ["unfold", "unfold it"],
  ["mirror", "mirror it"],
]);

/** Why a change cannot be made of this piece, or empty. @param {Kind} kind @param {PieceView} piece */
export function lacks(kind, piece) {
  if (kind.includes("dart") && !piece.darts.length) return "no dart is drawn";
  if (kind === "unfold" && !piece.on_fold) return "it has no fold edge";
  if (kind === "buttons" && !piece.marks.some((m) => m.kind === "centre line")) return "no centre line is marked";
  if (kind === "hem facing" && !piece.edges.some((e) => e.kind === "hem")) return "it has no hem";
  return "";
}

/**
 * What stands in the blanks before anything is typed: a cut from the picked edge to the one opposite, and so on.
 * @param {PieceView} piece
 * @param {number} picked index of the picked edge
 * @returns {Wish}
 */
export function firstWish(piece, picked) {
  const edge = piece.edges[picked] ?? piece.edges[0];
  const hem = edge.kind === "hem" ? edge : piece.edges.find((e) => e.kind === "hem") ?? edge;
  const box = bounds(piece.edges.flatMap((e) => e.points));
  return {
    start: { place: half(edge), dart: "" },
    end: { place: half(opposite(piece, edge)), dart: "" },
    way: "straight",
    through: [],
    first: "",
    second: "",
    seam: "",
    allowance: null,
    dart: piece.darts[0]?.name ?? "",
    place: half(edge.kind === "fold" ? piece.edges.find((e) => e.kind !== "fold") ?? edge : edge),
    share: 1,
    by: 20,
    edge: edge.name,
    width: 20,
    depth: 50,
    upto: edge.name,
    name: "",
    cloth: "",
    join: hem.allowance.width_mm > 0 ? Math.min(15, hem.allowance.width_mm) : 10,
    buttons: 5,
    diameter: 15,
    firstButton: 15,
    lastButton: 60,
    holes: true,
    level: Math.round((box.y1 - box.y0) * 0.4),
    moves: "upper",
  };
}

/** @param {EdgeView} edge @returns {Place} */
const half = (edge) => ({ edge: edge.name, mm: Math.round(edge.length_mm / 2), from: "start" });

/** The edge whose middle lies furthest from that of `edge`. @param {PieceView} piece @param {EdgeView} edge */
function opposite(piece, edge) {
  const [x, y] = midpoint(edge.points);
  let [best, most] = [edge, -1];
  for (const other of piece.edges) {
    const [ox, oy] = midpoint(other.points);
    const far = other === edge ? -1 : Math.hypot(ox - x, oy - y);
    if (far > most) [best, most] = [other, far];
  }
  return best;
}

/**
 * The change as it is sent, or null while the blanks name what the piece does not have.
 * @param {Kind} kind
 * @param {Wish} wish
 * @param {PieceView} piece
 * @returns {Change | null}
 */
export function changeOf(kind, wish, piece) {
  switch (kind) {
    case "split": {
      const line = cutLine(wish, piece);
      return line && {
        kind,
        line,
        smooth: wish.way === "curve" && line.length > 2,
        names: wish.first || wish.second ? [wish.first || piece.name, wish.second || piece.name] : null,
        ...(wish.seam ? { seam: wish.seam } : {}),
        allowance: wish.allowance === null ? null : { state: "add", width: wish.allowance },
        from_dart: wish.start.dart,
        to_dart: wish.end.dart,
      };
    }
    case "move dart": {
      const edge = edgeOf(piece, wish.place.edge);
      return edge && wish.dart ? { kind, dart: wish.dart, edge: edge.name, distance: fromStart(edge, wish.place), share: wish.share } : null;
    }
    case "shorten dart":
      return { kind, dart: wish.dart, by: wish.by };
    case "true dart":
      return { kind, dart: wish.dart };
    case "stand":
      return { kind, edge: wish.edge, width: wish.width };
    case "buttons":
      return { kind, count: wish.buttons, first: wish.firstButton, last: wish.lastButton, diameter: wish.diameter, holes: wish.holes };
    case "facing":
      return { kind, edges: runOf(piece, wish.edge, wish.upto), depth: wish.depth, name: wish.name, cloth: wish.cloth };
    case "hem facing":
      return { kind, edge: wish.edge, depth: wish.depth, allowance: wish.join, name: wish.name, cloth: wish.cloth };
    case "lengthen":
      return { kind, line: levelLine(wish, piece), by: wish.by };
    default:
      return { kind };
  }
}

/** Names of the edges from one to another, in the order of the outline. @param {PieceView} piece @param {string} first @param {string} last */
export function runOf(piece, first, last) {
  const names = piece.edges.map((e) => e.name);
  const [i, j] = [names.indexOf(first), names.indexOf(last)];
  if (i < 0 || j < 0) return [first];
  const count = ((j - i + names.length) % names.length) + 1;
  return Array.from({ length: count }, (_, n) => names[(i + n) % names.length]);
}

/** The end of a cut on the piece. @param {End} end @param {PieceView} piece @returns {XY | null} */
export const endPoint = (end, piece) =>
  end.dart ? piece.darts.find((d) => d.name === end.dart)?.point ?? null : pointOf(piece, end.place);

/** The cut from end to end, by way of the places between. @param {Wish} wish @param {PieceView} piece @returns {XY[] | null} */
export function cutLine(wish, piece) {
  const [a, b] = [endPoint(wish.start, piece), endPoint(wish.end, piece)];
  if (!a || !b) return null;
  return [a, ...(wish.way === "straight" ? [] : wish.through.map((place) => pointAside(place, a, b))), b];
}

/** The unit vector from a to b. @param {XY} a @param {XY} b @returns {XY} */
export function wayFrom(a, b) {
  const long = Math.hypot(b[0] - a[0], b[1] - a[1]);
  return long > 0 ? [(b[0] - a[0]) / long, (b[1] - a[1]) / long] : [1, 0];
}

/** @param {Aside} place @param {XY} a where it is counted from @param {XY} b @returns {XY} */
export function pointAside({ along, left }, a, b) {
  const [x, y] = wayFrom(a, b);
  return [a[0] + x * along - y * left, a[1] + y * along + x * left];
}

/** A point as counted along the way from a to b and square to it. @param {XY} p @param {XY} a @param {XY} b @returns {Aside} */
export function asideOf(p, a, b) {
  const [x, y] = wayFrom(a, b);
  const [dx, dy] = [p[0] - a[0], p[1] - a[1]];
  return { along: dx * x + dy * y, left: dy * x - dx * y };
}

/** The places with one more, half way along the longest step; as far aside as its neighbours' mean, the first one 10 mm. @param {Aside[]} through @param {number} whole length of the straight line, mm @returns {Aside[]} */
export function withOneMore(through, whole) {
  if (!through.length) return [{ along: Math.round(whole / 2), left: 10 }];
  const all = [{ along: 0, left: 0 }, ...through, { along: whole, left: 0 }];
  const steps = all.slice(1).map((p, i) => Math.hypot(p.along - all[i].along, p.left - all[i].left));
  const i = steps.indexOf(Math.max(...steps));
  const made = { along: Math.round((all[i].along + all[i + 1].along) / 2), left: Math.round((all[i].left + all[i + 1].left) / 2) };
  return [...through.slice(0, i), made, ...through.slice(i)];
}

/** How far above its lowest point, along the grain, a point of the piece lies; and the piece's whole height. @param {PieceView} piece @param {XY} [p] */
export function heightOn(piece, p = [0, 0]) {
  const up = grainUp(piece);
  const heights = piece.edges.flatMap((e) => e.points).map((q) => q[0] * up[0] + q[1] * up[1]);
  const low = Math.min(...heights);
  return { at: p[0] * up[0] + p[1] * up[1] - low, whole: Math.max(...heights) - low, low };
}

/** A line square to the grain at the wish's level, right across; what lies left of it moves. @param {Wish} wish @param {PieceView} piece @returns {XY[]} */
export function levelLine(wish, piece) {
  const up = grainUp(piece);
  const right = /** @type {XY} */ ([up[1], -up[0]]);
  const points = piece.edges.flatMap((e) => e.points);
  const along = points.map((q) => q[0] * right[0] + q[1] * right[1]);
  const h = heightOn(piece).low + wish.level;
  /** @param {number} r @returns {XY} */
  const at = (r) => [up[0] * h + right[0] * r, up[1] * h + right[1] * r];
  const line = [at(Math.min(...along) - 10), at(Math.max(...along) + 10)];
  return wish.moves === "upper" ? line : line.reverse();
}
