/**
 * Pieces as drafted and as cut, and a panel as it is typed.
 */

/** @import {PieceView, XY} from "../wire.js" */
/** @import {Box} from "../geometry.js" */
/** @import {View} from "./lines.js" */
import { html, nothing, svg } from "../../vendor/lit-html/lit-html.js";
import { bounds, distance, grown, inside, midpoint, namePlace, simplify } from "../geometry.js";
import { pointOfEvent } from "./handles.js";
import { at, grainArrow, hatch, markDrawing, notchMark, path, pathData, r2 } from "./lines.js";

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
 * @param {Box} [how.box] what to show, mm; all lines of the piece if not given
 * @param {boolean} [how.quiet] drawn back, under a preview
 * @param {(view: View) => unknown} [how.over] drawn on top
 * @param {(p: XY) => void} [how.onPoint] a click anywhere on the drawing, mm
 */
export function pieceDrawing(piece, how) {
  const margin = how.margin ?? 12;
  const box = grown(how.box ?? pieceBox(piece), margin / how.k);
  const [w, h] = [(box.x1 - box.x0) * how.k, (box.y1 - box.y0) * how.k];
  /** @type {View} */
  const view = { k: how.k, tx: -box.x0 * how.k, ty: box.y1 * how.k };
  const outline = piece.net_line ?? piece.edges.flatMap((e) => e.points);
  return html`<svg
    class=${`piece-drawing${how.quiet ? " quiet" : ""}${how.onPoint ? " aiming" : ""}`}
    width=${r2(w)}
    height=${r2(h)}
    viewBox=${`0 0 ${r2(w)} ${r2(h)}`}
    role=${how.over ? "group" : "img"}
    aria-label=${how.label}
    @click=${how.onPoint ? (/** @type {MouseEvent} */ e) => how.onPoint?.(pointOfEvent(e, view)) : nothing}
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
      ? svg`<path class="l l-picked" d=${pathData(piece.edges[how.picked].points, view, false)}></path>${how.onPick || how.onPoint ? edgeEnds(piece.edges[how.picked].points, view) : nothing}`
      : nothing}
    ${how.named || how.said ? edgeNames(piece, view, how.said ?? piece.edges.map((e) => e.name), how.picked) : nothing}
    ${how.onPick
      ? piece.edges.map(
          (edge, i) =>
            svg`<path class="l-reach" d=${pathData(edge.points, view, false)} @click=${() => how.onPick?.(i)}></path>`,
        )
      : nothing}
    ${how.over?.(view)}
  </svg>`;
}

/** Which way an edge runs: a ring where it starts, a square where it ends. @param {readonly XY[]} points @param {View} view */
function edgeEnds(points, view) {
  const [x, y] = at(view, points[0]).map(r2);
  const [ex, ey] = at(view, points[points.length - 1]).map(r2);
  return svg`<circle class="edge-start" cx=${x} cy=${y} r="5"></circle><rect class="edge-end" x=${r2(ex - 5)} y=${r2(ey - 5)} width="10" height="10"></rect>`;
}

/**
 * What a change would make of a piece: its lines dashed in chalk over the piece as it is.
 * @param {readonly PieceView[]} views
 * @param {View} view
 */
export const previewDrawing = (views, view) =>
  views.map((p) => {
    const net = p.net_line ?? p.edges.flatMap((e) => e.points);
    const place = namePlace(simplify([...net, net[0]], 1).slice(0, -1), p.name.length * 0.55);
    const [x, y] = at(view, place.at);
    const size = Math.max(11, Math.min(20, place.size * view.k));
    return svg`<g class="preview">
      ${p.cut_line ? svg`<path class="l l-preview" d=${pathData(p.cut_line, view)}></path>` : nothing}
      <path class="l l-preview-net" d=${pathData(net, view)}></path>
      ${p.darts.map((d) => svg`<path class="l l-preview-net" d=${pathData([d.first, d.point, d.second], view, false)}></path>`)}
      ${p.marks.map((m) => markDrawing(m, view))}
      <text class="edge-name picked" font-size=${r2(size)} x=${r2(x)} y=${r2(y)} dy="0.33em" text-anchor="middle" transform=${place.upright ? `rotate(-90 ${r2(x)} ${r2(y)})` : nothing}>${p.name}</text>
    </g>`;
  });

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
