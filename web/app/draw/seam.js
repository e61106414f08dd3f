/**
 * A seam walked: two edges, or rows of edges laid end to end, along each other.
 */

/** @import {JoinView, Seam, XY} from "../wire.js" */
/** @import {System} from "../units.js" */
/** @import {View} from "./lines.js" */
import { html, nothing, svg } from "../../vendor/lit-html/lit-html.js";
import { bounds } from "../geometry.js";
import { showLength } from "../units.js";
import { at, pathData, r2 } from "./lines.js";

/** The piece of an edge's name. @param {string} name "piece/edge" */
const pieceOf = (name) => name.split("/")[0];

/**
 * A seam walked: the first edge solid, the second laid along it dashed, notches and ends where they fall apart.
 * @param {Seam} seam
 * @param {{width: number, system: System, label: string}} how
 */
export function seamDrawing(seam, how) {
  const pad = 26;
  const box = bounds([...seam.first_line, ...seam.second_line, ...seam.mends.flatMap((m) => m.laid)]);
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
  /** Where two edges of a row meet: a stroke across the line, and their pieces' names. @param {readonly JoinView[]} joins @param {number} way */
  const joined = (joins, way) =>
    joins.map((j) => {
      const [x, y] = at(view, j.at).map(r2);
      return svg`<path class="l l-join" d=${`M${x} ${r2(y - 7)}v14`}></path>
        <text class="edge-name" x=${x} y=${r2(y - way * 16 + (way < 0 ? 6 : 0))} text-anchor="middle">${pieceOf(j.before)} | ${pieceOf(j.after)}</text>`;
    });
  const [end1, end2] = [seam.first_line, seam.second_line].map((line) => at(view, line[line.length - 1]));
  const apart = seam.findings.some((f) => f.code === "seam-lengths-differ");
  const text = showLength(Math.abs(seam.difference_mm), how.system);
  return html`<svg class="seam-drawing" width=${how.width} height=${r2(height)} viewBox=${`0 0 ${how.width} ${r2(height)}`} role="img" aria-label=${how.label}>
    <path class="l l-cut" d=${pathData(seam.first_line, view, false)}></path>
    <path class="l l-laid" d=${pathData(seam.second_line, view, false)}></path>
    ${seam.mends.map((m, i) => {
      const [x, y] = at(view, m.laid[m.laid.length - 1]).map(r2);
      return svg`<path class="l l-preview" d=${pathData(m.laid, view, false)}></path><text class="edge-name picked" x=${x + 6} y=${y - 6}>${i + 1}</text>`;
    })}
    ${joined(seam.first_joins, 1)} ${joined(seam.second_joins, -1)}
    ${seam.notches.map((n) => svg`${tick(n.first_at, 1)}${tick(n.second_at, -1)}`)}
    ${apart
      ? svg`<path class="l distance" d=${`M${end1.map(r2).join(" ")}L${end2.map(r2).join(" ")}`}></path>
          <text class="edge-name picked" x=${r2((end1[0] + end2[0]) / 2)} y=${r2(Math.max(end1[1], end2[1]) + 24)} text-anchor=${(end1[0] + end2[0]) / 2 > how.width - 60 ? "end" : "middle"}>${text}</text>`
      : nothing}
  </svg>`;
}
