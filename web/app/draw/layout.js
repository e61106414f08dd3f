/**
 * A layout to scale: the cloth as it lies, every piece in its place, distances that a tape can take.
 */

/** @import {ClothResult, Placement, XY} from "../wire.js" */
/** @import {System} from "../units.js" */
/** @import {View} from "./lines.js" */
import { nothing, svg } from "../../vendor/lit-html/lit-html.js";
import { bounds, distance, halfPlane, namePlace, simplify } from "../geometry.js";
import { handLetter, pieceKey } from "../state.js";
import { showLength } from "../units.js";
import { lackDrawing } from "./lacks.js";
import { at, grainArrow, markDrawing, notchMark, path, r2 } from "./lines.js";
import { physical, repeatLines, zoneDrawing, zoneFolds } from "./spread.js";
import { rulers } from "./rulers.js";

/**
 * A layout to scale, with rulers from the squared end and the real selvedge.
 * @param {ClothResult} result
 * @param {object} how
 * @param {View} how.view
 * @param {number} how.width px
 * @param {number} how.height px
 * @param {System} how.system
 * @param {string} [how.picked] key of the picked piece
 * @param {(key: string) => void} [how.onPick]
 * @param {(placement: Placement) => string} [how.describe] for screen readers
 * @param {{along: number, across: number}} [how.repeat] of the print, mm; 0 = plain
 * @param {boolean} [how.numbered] write the number of each piece before its name
 * @param {(text: string) => string} [how.say]
 */
export function layoutDrawing(result, how) {
  const { view } = how;
  const say = how.say ?? ((t) => t);
  const picked = result.placements.find((p) => pieceKey(p) === how.picked);
  return svg`
    ${result.zones.map((z) => zoneDrawing(z, result, view, say))}
    ${how.repeat ? result.zones.map((z) => repeatLines(z, result, view, /** @type {{along: number, across: number}} */ (how.repeat))) : nothing}
    ${lacksDrawn(result, view)}
    ${result.placements.map((p, i) => {
      const key = pieceKey(p);
      const on = key === how.picked;
      return svg`<g
        class=${on ? "laid picked" : "laid"}
        role=${how.onPick ? "button" : "img"}
        tabindex=${how.onPick ? (on || (!picked && i === 0) ? "0" : "-1") : nothing}
        aria-pressed=${how.onPick ? String(on) : nothing}
        aria-label=${how.describe?.(p) ?? p.piece}
        data-key=${key}
        @click=${() => how.onPick?.(key)}
      >${laidPiece(p, view, how.numbered ? `${i + 1} ` : "")}</g>`;
    })}
    ${result.zones.map((z) => zoneFolds(z, result, view))}
    ${picked ? pickedDistances(picked, result, how) : nothing}
    ${rulers(result, how)}`;
}

/** What the cloth lacks, as far as the drawn cloth goes. @param {ClothResult} result @param {View} view */
function lacksDrawn(result, view) {
  return (result.lacks ?? []).map((lack) => {
    const zone = result.zones.find((z) => z.id === lack.zone);
    const seen = zone ? halfPlane(lack.outline, 0, physical(zone, result).x1, -1) : [];
    return seen.length > 2 ? lackDrawing({ ...lack, outline: seen }, view) : nothing;
  });
}

/** @param {Placement} p @param {View} view @param {string} number */
function laidPiece(p, view, number) {
  return svg`<path class="paper-piece" d=${path(p.cut_line, view)}></path>
    <path class="l l-net" d=${path(p.net_line, view)}></path>
    <path class="l l-cut" d=${path(p.cut_line, view)}></path>
    ${(p.notches ?? []).map((n) => notchMark(n, view))}
    ${(p.marks ?? []).map((m) => markDrawing(m, view))}
    ${pieceName(p, view, number)}`;
}

/** Names are placed once per outline (mm), whatever the view. @type {WeakMap<readonly XY[], ReturnType<typeof namePlace>>} */
const places = new WeakMap();

/** @param {readonly XY[]} outline @param {number} letters */
function placeOf(outline, letters) {
  let place = places.get(outline);
  if (!place) {
    const rough = simplify([...outline, outline[0]], 1).slice(0, -1);
    place = namePlace(rough.length > 2 ? rough : outline, letters * LETTER_RATIO);
    places.set(outline, place);
  }
  return place;
}

/** Mean width of a letter over its height, for the typeface used, spaces and the hand letter included. */
const LETTER_RATIO = 0.52;

/** Smaller than this nobody reads a name, px; a name that needs less than the second is left out. */
const LEAST_NAME_PX = 9;
const HOPELESS_NAME_PX = 5.5;

/**
 * Name, hand letter and grain arrow of a laid piece. The name runs along the longer way of the piece;
 * an arrow in the same direction lies under it, one across it passes behind.
 * @param {Placement} p
 * @param {View} view
 * @param {string} number before the name, or empty
 */
function pieceName(p, view, number) {
  const place = placeOf(p.cut_line, p.piece.length + number.length + 3);
  const { upright } = place;
  const across = (upright ? place.wide : place.tall) * view.k;
  const wanted = Math.min(19, place.size * view.k);
  const named = wanted >= HOPELESS_NAME_PX;
  const size = named ? Math.max(wanted, LEAST_NAME_PX) : Math.max(8, Math.min(12, across * 0.6));
  const [x, y] = at(view, place.at);
  const [tail, head] = p.grain.length === 2 ? p.grain : [place.at, place.at];
  const long = distance(tail, head) || 1;
  const [ux, uy] = [(head[0] - tail[0]) / long, (head[1] - tail[1]) / long];
  const beside = Math.abs(upright ? uy : ux) > 0.8;
  const up = beside ? size * 0.38 : 0;
  const reach = Math.min(long, (Math.abs(ux) > Math.abs(uy) ? place.wide : place.tall) * 0.62, 420 / view.k) / 2;
  const off = (size * 0.68) / view.k;
  /** @type {XY} */
  const c = !beside ? place.at : upright ? [place.at[0] + off, place.at[1]] : [place.at[0], place.at[1] - off];
  const arrow = grainArrow(
    at(view, [c[0] - ux * reach, c[1] - uy * reach]),
    at(view, [c[0] + ux * reach, c[1] + uy * reach]),
    p.grain_rule !== "one way",
    Math.max(5, Math.min(9, reach * view.k * 0.4)),
  );
  const [tx, ty] = upright ? [x - up, y] : [x, y - up];
  const letter = handLetter(p);
  return svg`${arrow}<text class="laid-name" x=${r2(tx)} y=${r2(ty)} dy="0.33em" text-anchor="middle" font-size=${r2(size)}
    transform=${upright && named ? `rotate(-90 ${r2(tx)} ${r2(ty)})` : nothing}>${named ? svg`<tspan class="hand">${number}</tspan><tspan>${p.piece}</tspan><tspan class="hand" dx="0.4em">${letter}</tspan>` : number.trim() || letter}</text>`;
}

/** @param {Placement} p @param {ClothResult} result @param {{view: View, system: System}} how */
function pickedDistances(p, result, how) {
  const { view } = how;
  const box = bounds(p.cut_line);
  const zone = result.zones.find((z) => z.id === p.zone) ?? result.zones[0];
  const cloth = physical(zone, result);
  const folded = zone.fold_edges.includes("y0");
  /** A point of the piece where it comes nearest. @param {0 | 1} axis @param {number} value @returns {XY} */
  const nearest = (axis, value) => {
    const there = p.cut_line.filter((q) => Math.abs(q[axis] - value) < 0.5);
    return there[Math.floor(there.length / 2)] ?? [box.x0, box.y0];
  };
  const [west, south, north] = [nearest(0, box.x0), nearest(1, box.y0), nearest(1, box.y1)];
  /** @type {{a: XY, b: XY, mm: number}[]} */
  const lines = [
    { a: [0, west[1]], b: west, mm: box.x0 },
    { a: [south[0], cloth.y0], b: south, mm: box.y0 - cloth.y0 },
  ];
  if (folded) lines.push({ a: [north[0], cloth.y1], b: north, mm: cloth.y1 - box.y1 });
  return svg`<g class="distances" aria-hidden="true">${lines.map(({ a, b, mm }) => {
    if (mm < 0.05) return nothing;
    const [p1, p2] = [at(view, a), at(view, b)];
    const [x, y] = [(p1[0] + p2[0]) / 2, (p1[1] + p2[1]) / 2];
    const text = showLength(mm, how.system);
    const w = text.length * 7.4 + 10;
    return svg`<path class="l distance" d=${`M${p1.map(r2).join(" ")}L${p2.map(r2).join(" ")}`}></path>
      <rect class="distance-box" x=${r2(x - w / 2)} y=${r2(y - 11)} width=${r2(w)} height="22"></rect>
      <text class="distance-text" x=${r2(x)} y=${r2(y)} dy="0.35em" text-anchor="middle">${text}</text>`;
  })}</g>`;
}
