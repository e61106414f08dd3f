/**
 * Values to SVG: pieces, layouts, the cloth as it is bought, the curve of length against time.
 *
 * Points come in mm, y up; here they are turned y down. Roles are told apart by dash and weight (see
 * style.css, .l-*) and by letter; colour only repeats what these say already.
 */

/** @import {ClothResult, PieceView, Placement, Seam, XY, Zone} from "./wire.js" */
/** @import {Box} from "./geometry.js" */
/** @import {System} from "./units.js" */
/** @import {ClothChoice} from "./state.js" */
/** @import {TemplateResult} from "../vendor/lit-html/lit-html.js" */
import { html, nothing, svg } from "../vendor/lit-html/lit-html.js";
import { around, bounds, distance, grown, inside, midpoint, namePlace, roundStep, simplify } from "./geometry.js";
import { handLetter, pieceKey, staircase, usableWidth } from "./state.js";
import { MM_PER, showBlank, showClothLength, showFraction, showLength } from "./units.js";

/** Display outlines may leave the true ones by this much, mm. */
const DISPLAY_MM = 0.1;

/** @typedef {{k: number, tx: number, ty: number}} View px = (tx + k x, ty - k y) */

/** @param {View} view @param {XY} p @returns {XY} */
const at = (view, p) => [view.tx + view.k * p[0], view.ty - view.k * p[1]];

/** @param {number} v */
const r2 = (v) => Math.round(v * 100) / 100;

/**
 * Path data of points in the piece or cloth frame, through the view.
 * @param {readonly XY[]} points
 * @param {View} view
 * @param {boolean} [closed]
 */
export function pathData(points, view, closed = true) {
  if (points.length < 2) return "";
  const flat = closed
    ? simplify([...points, points[0]], DISPLAY_MM).slice(0, -1)
    : simplify(points, DISPLAY_MM);
  return `M${flat.map((p) => at(view, p).map(r2).join(" ")).join("L")}${closed ? "Z" : ""}`;
}

/** Path data kept per outline: outlines never change once received. @type {WeakMap<readonly XY[], {key: string, d: string}>} */
const kept = new WeakMap();

/** @param {readonly XY[]} points @param {View} view @param {boolean} [closed] */
function path(points, view, closed = true) {
  const key = `${view.k} ${view.tx} ${view.ty} ${closed}`;
  const known = kept.get(points);
  if (known?.key === key) return known.d;
  const d = pathData(points, view, closed);
  kept.set(points, { key, d });
  return d;
}

/**
 * A grain line with its heads. `both` draws a head at either end.
 * @param {XY} tail px
 * @param {XY} head px
 * @param {boolean} both
 * @param {number} [size] px
 */
function grainArrow(tail, head, both, size = 9) {
  const long = distance(tail, head);
  if (long < 2) return nothing;
  const [ux, uy] = [(head[0] - tail[0]) / long, (head[1] - tail[1]) / long];
  /** @param {XY} tip @param {number} way */
  const tipPath = (tip, way) => {
    const [bx, by] = [tip[0] - way * ux * size, tip[1] - way * uy * size];
    const w = size * 0.36;
    return `M${r2(tip[0])} ${r2(tip[1])}L${r2(bx - uy * w)} ${r2(by + ux * w)}L${r2(bx + uy * w)} ${r2(by - ux * w)}Z`;
  };
  return svg`<path class="l l-grain" d=${`M${tail.map(r2).join(" ")}L${head.map(r2).join(" ")}`}></path>
    <path class="l-head" d=${tipPath(head, 1) + (both ? tipPath(tail, -1) : "")}></path>`;
}

/** Short oblique strokes along a line, on its left-hand side (px): "do not cut here". @param {readonly XY[]} line px @param {number} [gap] */
function hatch(line, gap = 9) {
  let d = "";
  for (let i = 1; i < line.length; i++) {
    const [a, b] = [line[i - 1], line[i]];
    const long = distance(a, b);
    if (!long) continue;
    const [ux, uy] = [(b[0] - a[0]) / long, (b[1] - a[1]) / long];
    for (let s = gap / 2; s < long; s += gap) {
      const [x, y] = [a[0] + ux * s, a[1] + uy * s];
      d += `M${r2(x)} ${r2(y)}l${r2(uy * 7 - ux * 5)} ${r2(-ux * 7 - uy * 5)}`;
    }
  }
  return svg`<path class="l l-hatch" d=${d}></path>`;
}

/** @param {{at: XY, tip: XY, marks: number}} notch @param {View} view */
function notchMark(notch, view) {
  const [a, t] = [at(view, notch.at), at(view, notch.tip)];
  const long = distance(a, t) || 1;
  const [ux, uy] = [(t[0] - a[0]) / long, (t[1] - a[1]) / long];
  const reach = Math.max(long, 6);
  let d = "";
  for (let i = 0; i < notch.marks; i++) {
    const off = (i - (notch.marks - 1) / 2) * 4;
    d += `M${r2(a[0] - uy * off)} ${r2(a[1] + ux * off)}l${r2(ux * reach)} ${r2(uy * reach)}`;
  }
  return svg`<path class="l l-notch" d=${d}></path>`;
}

/** @param {{kind: string, points: XY[]}} mark @param {View} view */
function markDrawing(mark, view) {
  if (mark.points.length > 1) {
    return svg`<path class=${mark.kind === "inlay" ? "l l-inlay" : "l l-mark"} d=${pathData(mark.points, view, false)}></path>`;
  }
  const [x, y] = at(view, mark.points[0]).map(r2);
  return mark.kind === "drill"
    ? svg`<circle class="l l-mark" cx=${x} cy=${y} r="3"></circle>`
    : svg`<path class="l l-mark" d=${`M${x - 4} ${y}h8M${x} ${y - 4}v8`}></path>`;
}

// --- One piece ------------------------------------------------------------------------------------------

/** All lines of a piece. @param {PieceView} piece @returns {Box} */
export const pieceBox = (piece) =>
  bounds([...(piece.cut_line ?? []), ...piece.edges.flatMap((e) => e.points)]);

/**
 * A piece as drafted with its cut line: for the wall of pieces and for the piece page.
 * @param {PieceView} piece
 * @param {object} how
 * @param {number} how.k px per mm
 * @param {string} how.label what the drawing is, for screen readers
 * @param {number} [how.margin] px
 * @param {number} [how.picked] index of the picked edge
 * @param {(index: number) => void} [how.onPick]
 * @param {boolean} [how.named] write the edges' names
 * @param {readonly string[]} [how.said] what to write beside each edge instead of its name
 * @param {readonly (readonly XY[])[]} [how.folded] closed lines: the allowance where it lies when folded
 */
export function pieceDrawing(piece, how) {
  const margin = how.margin ?? 12;
  const box = grown(pieceBox(piece), margin / how.k);
  const [w, h] = [(box.x1 - box.x0) * how.k, (box.y1 - box.y0) * how.k];
  /** @type {View} */
  const view = { k: how.k, tx: -box.x0 * how.k, ty: box.y1 * how.k };
  const outline = piece.net_line ?? piece.edges.flatMap((e) => e.points);
  return html`<svg
    class="piece-drawing"
    width=${r2(w)}
    height=${r2(h)}
    viewBox=${`0 0 ${r2(w)} ${r2(h)}`}
    role="img"
    aria-label=${how.label}
  >
    ${piece.cut_line
      ? svg`<path class="paper-piece" d=${path(piece.cut_line, view)}></path>`
      : svg`<path class="paper-piece" d=${pathData(outline, view)}></path>`}
    ${(how.folded ?? []).map((line) => svg`<path class="l l-folded" d=${pathData(line, view)}></path>`)}
    ${piece.edges.map((edge) =>
      edge.kind === "fold"
        ? svg`<path class="l l-fold" d=${pathData(edge.points, view, false)}></path>
            ${hatch([...edge.points].reverse().map((p) => at(view, p)))}`
        : nothing,
    )}
    ${piece.cut_line ? svg`<path class="l l-cut" d=${path(piece.cut_line, view)}></path>` : nothing}
    ${piece.net_line ? svg`<path class="l l-net" d=${path(piece.net_line, view)}></path>` : svg`<path class="l l-net" d=${pathData(outline, view)}></path>`}
    ${piece.darts.map((d) => svg`<path class="l l-dart" d=${pathData([d.first, d.point, d.second], view, false)}></path>`)}
    ${piece.notches.map((n) => notchMark(n, view))}
    ${piece.marks.map((m) => markDrawing(m, view))}
    ${piece.grain ? grainArrow(at(view, piece.grain.tail), at(view, piece.grain.head), piece.grain_rule !== "one way") : nothing}
    ${how.picked !== undefined && piece.edges[how.picked]
      ? svg`<path class="l l-picked" d=${pathData(piece.edges[how.picked].points, view, false)}></path>`
      : nothing}
    ${how.named || how.said ? edgeNames(piece, view, how.said ?? piece.edges.map((e) => e.name), how.picked) : nothing}
    ${how.onPick
      ? piece.edges.map(
          (edge, i) =>
            svg`<path class="l-reach" d=${pathData(edge.points, view, false)} @click=${() => how.onPick?.(i)}></path>`,
        )
      : nothing}
  </svg>`;
}

/** Names inside the outline, beside the middle of each edge. @param {PieceView} piece @param {View} view @param {readonly string[]} texts @param {number} [picked] */
function edgeNames(piece, view, texts, picked) {
  const outline = piece.net_line ?? piece.edges.flatMap((e) => e.points);
  return piece.edges.map((edge, i) => {
    const middle = midpoint(edge.points);
    const [a, b] = [edge.points[0], edge.points[edge.points.length - 1]];
    const long = distance(a, b) || 1;
    // The outline runs counter-clockwise: the inside lies on the left of the way along it.
    const left = /** @type {XY} */ ([-(b[1] - a[1]) / long, (b[0] - a[0]) / long]);
    // An edge that has its allowance in it has the net line inside: the words go beyond that.
    const off = 14 / view.k + (edge.allowance.state === "included" ? edge.allowance.width_mm : 0);
    const spot = /** @type {XY} */ ([middle[0] + left[0] * off, middle[1] + left[1] * off]);
    const [x, y] = at(view, inside(spot, outline) ? spot : middle);
    const anchor = left[0] > 0.5 ? "start" : left[0] < -0.5 ? "end" : "middle";
    return svg`<text class=${i === picked ? "edge-name picked" : "edge-name"} x=${r2(x)} y=${r2(y + 5)} text-anchor=${anchor}>${texts[i]}</text>`;
  });
}

/**
 * A seam walked: the first edge solid, the second laid along it dashed, notches and ends where they fall apart.
 * @param {Seam} seam
 * @param {{width: number, system: System, label: string}} how
 */
export function seamDrawing(seam, how) {
  const pad = 26;
  const box = bounds([...seam.first_line, ...seam.second_line]);
  const k = Math.min((how.width - 2 * pad) / Math.max(1, box.x1 - box.x0), 240 / Math.max(1, box.y1 - box.y0), 3);
  const height = (box.y1 - box.y0) * k + 2 * pad + 14;
  /** @type {View} */
  const view = { k, tx: pad - box.x0 * k, ty: pad + box.y1 * k };
  /** @param {XY | null} p @param {number} way up (first edge) or down (second) */
  const tick = (p, way) => {
    if (!p) return nothing;
    const [x, y] = at(view, p).map(r2);
    return svg`<path class="l l-notch" d=${`M${x} ${y}v${-way * 9}`}></path>`;
  };
  const [end1, end2] = [seam.first_line, seam.second_line].map((line) => at(view, line[line.length - 1]));
  const apart = seam.findings.some((f) => f.code === "seam-lengths-differ");
  const text = showLength(Math.abs(seam.difference_mm), how.system);
  return html`<svg class="seam-drawing" width=${how.width} height=${r2(height)} viewBox=${`0 0 ${how.width} ${r2(height)}`} role="img" aria-label=${how.label}>
    <path class="l l-cut" d=${pathData(seam.first_line, view, false)}></path>
    <path class="l l-laid" d=${pathData(seam.second_line, view, false)}></path>
    ${seam.notches.map((n) => svg`${tick(n.first_at, 1)}${tick(n.second_at, -1)}`)}
    ${apart
      ? svg`<path class="l distance" d=${`M${end1.map(r2).join(" ")}L${end2.map(r2).join(" ")}`}></path>
          <text class="edge-name picked" x=${r2((end1[0] + end2[0]) / 2)} y=${r2(Math.max(end1[1], end2[1]) + 24)} text-anchor=${(end1[0] + end2[0]) / 2 > how.width - 60 ? "end" : "middle"}>${text}</text>`
      : nothing}
  </svg>`;
}

/**
 * A panel as typed, before it is a piece: its net line and, where one is added, its allowance in words.
 * @param {readonly XY[]} outline mm
 * @param {string} label
 */
export function panelDrawing(outline, label) {
  const box = bounds(outline);
  const k = Math.min(260 / Math.max(1, box.x1 - box.x0), 220 / Math.max(1, box.y1 - box.y0), 1.5);
  const [w, h] = [(box.x1 - box.x0) * k + 20, (box.y1 - box.y0) * k + 20];
  /** @type {View} */
  const view = { k, tx: 10 - box.x0 * k, ty: 10 + box.y1 * k };
  const middle = (box.x0 + box.x1) / 2;
  const [low, high] = [box.y0 + (box.y1 - box.y0) * 0.2, box.y0 + (box.y1 - box.y0) * 0.8];
  return html`<svg width=${r2(w)} height=${r2(h)} viewBox=${`0 0 ${r2(w)} ${r2(h)}`} role="img" aria-label=${label}>
    <path class="l l-net" d=${pathData(outline, view)}></path>
    ${grainArrow(at(view, [middle, low]), at(view, [middle, high]), true)}
  </svg>`;
}

// --- A layout -----------------------------------------------------------------------------------------------

/** Room for the rulers, px. */
export const RULER_PX = 34;
/** Between ruler and cloth, and outside the cloth for the hatching of a fold, px. */
const GAP_PX = 4;
/** All that is not cloth along one side of the board, px. */
export const MARGIN_PX = RULER_PX + GAP_PX + 24;

/** The physical cloth round a layout, cloth frame, mm. @param {ClothResult} result @returns {Box} */
export function clothBox(result) {
  const boxes = result.zones.map((z) => physical(z, result));
  const box = boxes.length ? around(boxes) : { x0: 0, x1: result.length_mm, y0: 0, y1: result.usable_width_mm };
  return { ...box, x0: Math.min(box.x0, -result.end_allowance_mm) };
}

/** A zone with the selvedge bands and ends that belong to it. @param {Zone} zone @param {ClothResult} result @returns {Box} */
function physical(zone, result) {
  const s = result.selvedge_mm;
  const e = result.end_allowance_mm;
  const used = usedEnd(zone, result);
  const last = result.zones.every((z) => z.x1 <= zone.x1);
  return {
    x0: zone.x0 <= 0 && !zone.fold_edges.includes("x0") ? zone.x0 - e : zone.x0,
    x1: last ? used + e : used,
    y0: zone.fold_edges.includes("y0") ? zone.y0 : zone.y0 - (neighbour(zone, result, "y0") ? 0 : s),
    y1: zone.fold_edges.includes("y1") ? zone.y1 : zone.y1 + (neighbour(zone, result, "y1") ? 0 : s),
  };
}

/** Where the drawn cloth of a zone ends: the last zone may be longer than what is used. @param {Zone} zone @param {ClothResult} result */
function usedEnd(zone, result) {
  const last = result.zones.every((z) => z.x1 <= zone.x1);
  return last ? Math.max(zone.x0, Math.min(zone.x1, result.length_mm)) : zone.x1;
}

/** Whether another zone lies against that side. @param {Zone} zone @param {ClothResult} result @param {"y0" | "y1"} side */
function neighbour(zone, result, side) {
  return result.zones.some(
    (z) => z !== zone && z.x0 < zone.x1 && zone.x0 < z.x1 &&
      Math.abs(side === "y1" ? z.y0 - zone.y1 : z.y1 - zone.y0) < 1e-6,
  );
}

/** The view that shows a box in so many px. @param {Box} box @param {number} width @param {number} height @returns {View} */
export function fitView(box, width, height) {
  const k = Math.min((width - MARGIN_PX) / (box.x1 - box.x0 || 1), (height - MARGIN_PX) / (box.y1 - box.y0 || 1));
  return { k, tx: RULER_PX + GAP_PX - box.x0 * k, ty: RULER_PX + GAP_PX + box.y1 * k };
}

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

/** The cloth under the pieces: ground, selvedge bands, fold, squared ends. @param {Zone} zone @param {ClothResult} result @param {View} view @param {(t: string) => string} say */
function zoneDrawing(zone, result, view, say) {
  const box = physical(zone, result);
  const [x0, y1] = at(view, [box.x0, box.y1]);
  const [x1, y0] = at(view, [box.x1, box.y0]);
  const end = usedEnd(zone, result);
  const [ix0, iy1] = at(view, [zone.x0, zone.y1]);
  const ix1 = at(view, [end, zone.y0])[0];
  /** @param {number} y @param {number} edge */
  const band = (y, edge) =>
    Math.abs(y - edge) < 1e-9
      ? nothing
      : svg`<rect class="selvedge" x=${r2(x0)} y=${r2(Math.min(at(view, [0, y])[1], at(view, [0, edge])[1]))} width=${r2(x1 - x0)} height=${r2(Math.abs(y - edge) * view.k)}></rect>
          <path class="l selvedge-edge" d=${`M${r2(x0)} ${r2(at(view, [0, edge])[1])}H${r2(x1)}`}></path>`;
  return svg`<g class="zone">
    <rect class=${zone.plies > 1 ? "ground two" : "ground"} x=${r2(x0)} y=${r2(y1)} width=${r2(Math.max(0, x1 - x0))} height=${r2(y0 - y1)}></rect>
    ${band(zone.y0, box.y0)}${band(zone.y1, box.y1)}
    <path class="l squared" d=${`M${r2(ix0)} ${r2(y1)}V${r2(y0)}M${r2(ix1)} ${r2(y1)}V${r2(y0)}`}></path>
    ${!zone.fold_edges.includes("y1") && neighbour(zone, result, "y1")
      ? svg`<path class="l between-zones" d=${`M${r2(ix0)} ${r2(iy1)}H${r2(ix1)}`}></path>`
      : nothing}
    ${zoneNote(zone, result, view, say)}
  </g>`;
}

/** The print's repeat as thin lines on the cloth, counted from the squared end and the zone's lower edge. @param {Zone} zone @param {ClothResult} result @param {View} view @param {{along: number, across: number}} repeat */
function repeatLines(zone, result, view, repeat) {
  const end = usedEnd(zone, result);
  let d = "";
  if (repeat.along > 0 && repeat.along * view.k > 3) {
    for (let i = Math.ceil(zone.x0 / repeat.along); i * repeat.along <= end; i++) {
      const [x, y] = at(view, [i * repeat.along, zone.y0]);
      d += `M${r2(x)} ${r2(y)}V${r2(at(view, [0, zone.y1])[1])}`;
    }
  }
  if (repeat.across > 0 && repeat.across * view.k > 3) {
    for (let i = Math.ceil(zone.y0 / repeat.across); i * repeat.across <= zone.y1; i++) {
      const [x, y] = at(view, [zone.x0, i * repeat.across]);
      d += `M${r2(x)} ${r2(y)}H${r2(at(view, [end, 0])[0])}`;
    }
  }
  return d ? svg`<path class="l repeat" d=${d}></path>` : nothing;
}

/** The folds of a zone, over the pieces that lie on them. @param {Zone} zone @param {ClothResult} result @param {View} view */
function zoneFolds(zone, result, view) {
  const end = usedEnd(zone, result);
  const [ix0, iy1] = at(view, [zone.x0, zone.y1]);
  const [ix1, iy0] = at(view, [end, zone.y0]);
  return svg`<g class="folds">
    ${zone.fold_edges.includes("y0") ? foldLine([[ix1, iy0], [ix0, iy0]]) : nothing}
    ${zone.fold_edges.includes("y1") ? foldLine([[ix0, iy1], [ix1, iy1]]) : nothing}
    ${zone.fold_edges.includes("x0") ? foldLine([[ix0, iy0], [ix0, iy1]]) : nothing}
  </g>`;
}

/** How the cloth lies in a zone: under it, else over it, else inside its upper edge. @param {Zone} zone @param {ClothResult} result @param {View} view @param {(t: string) => string} say */
function zoneNote(zone, result, view, say) {
  const all = around(result.zones.map((z) => physical(z, result)));
  const box = physical(zone, result);
  const text = say(zone.plies > 1 ? "two plies, right sides together" : "one ply, right side up");
  const [x, over] = at(view, [zone.x0, box.y1]);
  const under = at(view, [0, box.y0])[1];
  if ((usedEnd(zone, result) - zone.x0) * view.k < text.length * 5.4) return nothing;
  const y =
    (box.y0 - all.y0) * view.k < 6 ? under + 19
    : (all.y1 - box.y1) * view.k > 24 && !neighbour(zone, result, "y1") ? over - 7
    : over + 15;
  return svg`<text class="zone-note" x=${r2(x)} y=${r2(y)}>${text}</text>`;
}

/** A fold with its hatch outside. The outside lies on the left of the way along. @param {XY[]} line px */
const foldLine = (line) =>
  svg`${hatch(line, 10)}<path class="l l-fold" d=${`M${line.map((p) => p.map(r2).join(" ")).join("L")}`}></path>`;

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

/** Rulers at the top (from the squared end) and at the left (from the real selvedge or the fold). @param {ClothResult} result @param {{view: View, width: number, height: number, system: System}} how */
function rulers(result, how) {
  const { view, width, height, system } = how;
  const cloth = clothBox(result);
  // Across, zero is the edge that a tape can touch: the selvedge or the fold of the first zone.
  const zero = result.zones.length ? physical(result.zones[0], result).y0 : 0;
  const fromX = (RULER_PX - view.tx) / view.k;
  const toX = (width - view.tx) / view.k;
  const toY = (view.ty - RULER_PX) / view.k;
  const fromY = (view.ty - height) / view.k;
  const unit = system === "imperial" ? MM_PER.in : MM_PER.cm;
  const bases = system === "imperial" ? [1, 3, 6] : [1, 2, 5];
  const step = roundStep(width / view.k / unit, width / 62, bases) * unit;
  const fine = step / (system === "imperial" ? (step > 5 * unit ? 6 : 4) : step / unit === 2 ? 4 : 5);
  let top = "";
  let left = "";
  /** @type {TemplateResult<any>[]} */
  const figures = [];
  for (let i = Math.max(0, Math.ceil(fromX / fine)); i * fine <= Math.min(toX, cloth.x1) + 1e-6; i++) {
    const x = r2(view.tx + i * fine * view.k);
    const whole = isWhole((i * fine) / step);
    top += `M${x} ${RULER_PX}v${whole ? -11 : -5}`;
    if (whole) figures.push(svg`<text class="ruler-figure" x=${x} y=${RULER_PX - 14} text-anchor="middle">${rulerText((i * fine) / unit)}</text>`);
  }
  for (let i = Math.max(0, Math.ceil((fromY - zero) / fine)); i * fine + zero <= Math.min(toY, cloth.y1) + 1e-6; i++) {
    const y = r2(view.ty - (i * fine + zero) * view.k);
    const whole = isWhole((i * fine) / step);
    left += `M${RULER_PX} ${y}h${whole ? -8 : -4}`;
    if (whole) figures.push(svg`<text class="ruler-figure" x=${RULER_PX - 10} y=${y} dy="0.33em" text-anchor="end">${rulerText((i * fine) / unit)}</text>`);
  }
  return svg`<g class="rulers" aria-hidden="true">
    <rect class="ruler-ground" x="0" y="0" width=${width} height=${RULER_PX}></rect>
    <rect class="ruler-ground" x="0" y="0" width=${RULER_PX} height=${height}></rect>
    <path class="l ruler-ticks" d=${`${top}${left}M${RULER_PX} ${height}V${RULER_PX}H${width}`}></path>
    ${figures}
    <text class="ruler-figure" x="2" y="14">${system === "imperial" ? "in" : "cm"}</text>
  </g>`;
}

/** @param {number} v */
const isWhole = (v) => Math.abs(v - Math.round(v)) < 1e-6;
/** @param {number} v */
const rulerText = (v) => (isWhole(v) ? String(Math.round(v)) : showFraction(v));

// --- Length against time --------------------------------------------------------------------------------------

/**
 * The curve of length against time, with the floor.
 * @param {ClothResult} result
 * @param {object} how
 * @param {number} how.width px
 * @param {number} how.height px
 * @param {System} how.system
 * @param {number} how.until seconds at the right end
 * @param {(text: string) => string} [how.say]
 */
export function curve(result, how) {
  const { width, height, system } = how;
  const pad = { l: 62, r: 14, t: 12, b: 28 };
  const history = result.history;
  if (!history.length) return nothing;
  const until = Math.max(how.until, history[history.length - 1].seconds, 0.1);
  const most = Math.max(...history.map((m) => m.length_mm));
  const low = Math.min(result.floor_mm, ...history.map((m) => m.length_mm));
  const room = Math.max(most - low, most * 0.01);
  const [y0, y1] = [low - room * 0.12, most + room * 0.08];
  /** @param {number} s */
  const X = (s) => r2(pad.l + (s / until) * (width - pad.l - pad.r));
  /** @param {number} mm */
  const Y = (mm) => r2(height - pad.b - ((mm - y0) / (y1 - y0)) * (height - pad.t - pad.b));
  const corners = staircase(history, until);
  const last = corners[corners.length - 1];
  const step = roundStep(until, 5);
  const ticks = [];
  for (let s = 0; s <= until + 1e-9; s += step) ticks.push(s);
  const first = history[0].length_mm;
  const showFirst = Math.abs(Y(first) - Y(last[1])) > 18;
  const showFloor = Math.abs(Y(result.floor_mm) - Y(last[1])) > 16;
  const label = `Length against time: from ${showClothLength(first, system)} to ${showClothLength(last[1], system)} in ${until.toFixed(0)} seconds; the floor is ${showClothLength(result.floor_mm, system)}.`;
  return html`<svg class="curve" width=${width} height=${height} viewBox=${`0 0 ${width} ${height}`} role="img" aria-label=${label}>
    <path class="l axis" d=${`M${pad.l} ${pad.t}V${height - pad.b}H${width - pad.r}`}></path>
    <path class="l axis" d=${ticks.map((s) => `M${X(s)} ${height - pad.b}v5`).join("")}></path>
    ${ticks.map((s) => svg`<text class="curve-figure" x=${X(s)} y=${height - 8} text-anchor="middle">${Number(s.toFixed(2))} s</text>`)}
    <path class="l curve-floor" d=${`M${pad.l} ${Y(result.floor_mm)}H${width - pad.r}`}></path>
    <path class="l curve-line" d=${`M${corners.map(([s, mm]) => `${X(s)} ${Y(mm)}`).join("L")}`}></path>
    <circle class="curve-now" cx=${X(last[0])} cy=${Y(last[1])} r="3.5"></circle>
    ${showFirst ? svg`<text class="curve-figure" x=${pad.l - 8} y=${Y(first)} dy="0.33em" text-anchor="end">${showClothLength(first, system)}</text>` : nothing}
    <text class="curve-figure strong" x=${pad.l - 8} y=${Y(last[1])} dy="0.33em" text-anchor="end">${showClothLength(last[1], system)}</text>
    ${showFloor ? svg`<text class="curve-figure" x=${pad.l - 8} y=${Y(result.floor_mm)} dy="0.33em" text-anchor="end">${showClothLength(result.floor_mm, system)}</text>` : nothing}
    <text class="curve-figure" x=${width - pad.r} y=${Y(result.floor_mm) - 6} text-anchor="end">floor</text>
  </svg>`;
}

// --- The cloth as it is bought ------------------------------------------------------------------------------------

/**
 * A stretch of the cloth seen from above, as the sentence describes it: width, selvedges, fold, nap, repeat.
 * @param {ClothChoice} cloth
 * @param {{width: number, height: number, system: System, say: (text: string) => string}} how
 */
export function clothDrawing(cloth, how) {
  const { width, height, system, say } = how;
  const full = cloth.measured_width_mm ?? cloth.width_mm;
  const usable = Math.max(0, usableWidth(cloth));
  const s = cloth.selvedge_mm;
  const long = Math.max(full * 1.15, 3 * cloth.repeat_along_mm, 400);
  const depth = foldDepth(cloth, usable);
  const shown = depth.whole;
  const k = Math.min((width - 100) / long, (height - 76) / Math.max(full, 1));
  /** @type {View} */
  const view = { k, tx: 64, ty: height - 40 - ((full - shown) * k) / 2 };
  const [x0, yLow] = at(view, [0, 0]);
  const [x1, yHigh] = at(view, [long, shown]);
  /** @type {string[]} */
  const stripes = [];
  if (cloth.repeat_along_mm > 0) for (let x = cloth.repeat_along_mm; x < long; x += cloth.repeat_along_mm) stripes.push(`M${r2(view.tx + x * k)} ${r2(yLow)}V${r2(yHigh)}`);
  if (cloth.repeat_across_mm > 0) for (let y = cloth.repeat_across_mm; y < shown; y += cloth.repeat_across_mm) stripes.push(`M${r2(x0)} ${r2(view.ty - y * k)}H${r2(x1)}`);
  const ownEnd = cloth.available_mm !== null && cloth.available_mm < long ? view.tx + cloth.available_mm * k : null;
  return html`<svg class="cloth-drawing" width=${width} height=${height} viewBox=${`0 0 ${width} ${height}`} role="img" aria-label=${say(clothLabel(cloth, system))}>
    <rect class=${depth.plies > 1 ? "ground two" : "ground"} x=${r2(x0)} y=${r2(yHigh)} width=${r2(x1 - x0)} height=${r2(yLow - yHigh)}></rect>
    ${depth.oneFrom !== null ? svg`<rect class="ground" x=${r2(x0)} y=${r2(yHigh)} width=${r2(x1 - x0)} height=${r2(Math.max(0, view.ty - depth.oneFrom * k - yHigh))}></rect><path class="l between-zones" d=${`M${r2(x0)} ${r2(view.ty - depth.oneFrom * k)}H${r2(x1)}`}></path>` : nothing}
    ${stripes.length ? svg`<path class="l repeat" d=${stripes.join("")}></path>` : nothing}
    ${depth.selvedges.map((y) => svg`<rect class="selvedge" x=${r2(x0)} y=${r2(view.ty - (y + s) * k)} width=${r2(x1 - x0)} height=${r2(Math.max(1, s * k))}></rect>`)}
    <path class="l squared" d=${`M${r2(x0)} ${r2(yLow)}V${r2(yHigh)}`}></path>
    <path class="l torn" d=${torn(x1, yLow, yHigh)}></path>
    <path class="l selvedge-edge" d=${depth.edges.map((y) => `M${r2(x0)} ${r2(view.ty - y * k)}H${r2(x1)}`).join("")}></path>
    ${depth.folds.map((f) => foldLine(f === "x0" ? [[x0, yLow], [x0, yHigh]] : f === "low" ? [[x1, yLow], [x0, yLow]] : [[x0, yHigh], [x1, yHigh]]))}
    ${cloth.nap ? napArrows(x0, x1, yLow, yHigh) : nothing}
    ${ownEnd !== null ? svg`<path class="l own-end" d=${`M${r2(ownEnd)} ${r2(yLow)}V${r2(yHigh)}`}></path><text class="cloth-note" x=${r2(ownEnd - 6)} y=${r2(yLow - 8)} text-anchor="end">${showLength(cloth.available_mm ?? 0, system)}</text>` : nothing}
    <path class="l ruler-ticks" d=${`M${r2(x0 - 12)} ${r2(yLow)}V${r2(yHigh)}m-5 0h10M${r2(x0 - 17)} ${r2(yLow)}h10`}></path>
    <text class="cloth-note" x=${r2(x0 - 20)} y=${r2((yLow + yHigh) / 2)} text-anchor="middle" transform=${`rotate(-90 ${r2(x0 - 20)} ${r2((yLow + yHigh) / 2)})`}>${cloth.fold === "off-centre" ? "" : `${showBlank(shown, system)}${depth.plies > 1 ? " as folded" : ""}`}</text>
    ${cloth.fold === "best" || cloth.fold === "off-centre"
      ? svg`<text class="cloth-note" x=${r2(x0)} y=${r2(yHigh - 10)}>${cloth.fold === "best" ? "the search finds the fold" : "the search finds how deep"}</text>`
      : nothing}
    <text class="cloth-note" x=${r2(x0)} y=${r2(yLow + 30)}>${say(`usable width ${showLength(usable, system)}`)}</text>
  </svg>`;
}

/**
 * What the folded cloth looks like from above, mm across from the lower edge.
 * @param {ClothChoice} cloth
 * @param {number} usable
 * @returns {{whole: number, plies: number, oneFrom: number | null, selvedges: number[], edges: number[], folds: ("low" | "high" | "x0")[]}}
 */
function foldDepth(cloth, usable) {
  const s = cloth.selvedge_mm;
  const full = usable + 2 * s;
  switch (cloth.fold) {
    case "lengthwise":
      return { whole: usable / 2 + s, plies: 2, oneFrom: null, selvedges: [usable / 2], edges: [usable / 2 + s], folds: ["low"] };
    case "off-centre": {
      const d = usable * 0.34;
      return { whole: usable - d + s, plies: 2, oneFrom: d, selvedges: [usable - d], edges: [usable - d + s], folds: ["low"] };
    }
    case "double":
      return { whole: usable / 2, plies: 2, oneFrom: null, selvedges: [], edges: [usable / 4], folds: ["low", "high"] };
    case "crosswise":
      return { whole: full, plies: 2, oneFrom: null, selvedges: [0, usable + s], edges: [0, full], folds: ["x0"] };
    default:
      return { whole: full, plies: 1, oneFrom: null, selvedges: [0, usable + s], edges: [0, full], folds: [] };
  }
}

/** The cloth goes on: a broken end. @param {number} x @param {number} low @param {number} high */
function torn(x, low, high) {
  let d = `M${r2(x)} ${r2(low)}`;
  const n = Math.max(4, Math.round((low - high) / 14));
  for (let i = 1; i <= n; i++) d += `L${r2(x + (i % 2 ? 4 : -4) * (i === n ? 0 : 1))} ${r2(low - ((low - high) * i) / n)}`;
  return d;
}

/** @param {number} x0 @param {number} x1 @param {number} low @param {number} high */
function napArrows(x0, x1, low, high) {
  return [0.25, 0.5, 0.75].map((t) => {
    const y = low + (high - low) * t;
    return grainArrow([x0 + (x1 - x0) * 0.3, y], [x0 + (x1 - x0) * 0.62, y], false, 12);
  });
}

/** @param {ClothChoice} cloth @param {System} system */
function clothLabel(cloth, system) {
  const width = showBlank(cloth.measured_width_mm ?? cloth.width_mm, system);
  return `The cloth from above: ${width} wide, fold: ${cloth.fold}, ${cloth.nap ? "one way" : "either way"}, usable width ${showLength(Math.max(0, usableWidth(cloth)), system)}.`;
}
