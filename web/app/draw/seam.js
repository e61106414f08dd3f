/**
 * A seam walked: two edges, or rows of edges laid end to end, along each other: as they are drawn, and
 * as straight strips of their sewn lengths.
 */

/** @import {JoinView, Seam, XY} from "../wire.js" */
/** @import {System} from "../units.js" */
/** @import {View} from "./lines.js" */
import { html, nothing, svg } from "../../vendor/lit-html/lit-html.js";
import { bounds } from "../geometry.js";
import { showLength } from "../units.js";
import { at, pathData, r2 } from "./lines.js";

/** Room beside the lines, px. */
const PAD = 26;
/** Heights of the two strips and of the drawing they are in, px. */
const [UPPER, LOWER, TALL] = [34, 52, 88];
/** About the width of a letter of the strips' names, px. */
const LETTER_PX = 7.2;

/** The piece of an edge's name. @param {string} name "piece/edge" */
const pieceOf = (name) => name.split("/")[0];

/**
 * The seam as drawn: the first edge solid, the second laid along it dashed, notches where they are, a
 * stroke where two edges of a row meet, and what would mend it.
 * @param {Seam} seam
 * @param {{width: number, label: string}} how
 */
export function seamDrawing(seam, how) {
  const box = bounds([...seam.first_line, ...seam.second_line, ...seam.mends.flatMap((m) => m.laid)]);
  const k = Math.min((how.width - 2 * PAD) / Math.max(1, box.x1 - box.x0), 240 / Math.max(1, box.y1 - box.y0), 3);
  const height = (box.y1 - box.y0) * k + 2 * PAD;
  /** @type {View} */
  const view = { k, tx: PAD - box.x0 * k, ty: PAD + box.y1 * k };
  /** @param {XY | null} p @param {number} way up (first edge) or down (second) */
  const tick = (p, way) => {
    if (!p) return nothing;
    const [x, y] = at(view, p).map(r2);
    return svg`<path class="l l-notch" d=${`M${x} ${y}v${-way * 9}`}></path>`;
  };
  /** @param {JoinView} j */
  const join = (j) => {
    const [x, y] = at(view, j.at).map(r2);
    return svg`<path class="l l-join" d=${`M${x} ${r2(y - 7)}v14`}></path>`;
  };
  return html`<svg class="seam-drawing" width=${how.width} height=${r2(height)} viewBox=${`0 0 ${how.width} ${r2(height)}`} role="img" aria-label=${how.label}>
    <path class="l l-cut" d=${pathData(seam.first_line, view, false)}></path>
    <path class="l l-laid" d=${pathData(seam.second_line, view, false)}></path>
    ${seam.mends.map((m, i) => {
      const [x, y] = at(view, m.laid[m.laid.length - 1]).map(r2);
      return svg`<path class="l l-preview" d=${pathData(m.laid, view, false)}></path><text class="edge-name picked" x=${x + 6} y=${y - 6}>${i + 1}</text>`;
    })}
    ${[...seam.first_joins, ...seam.second_joins].map(join)}
    ${seam.notches.map((n) => svg`${tick(n.first_at, 1)}${tick(n.second_at, -1)}`)}
  </svg>`;
}

/**
 * The same as two straight strips, as long as what is sewn: pieces by name, notches, joins, and how much
 * one is longer.
 * @param {Seam} seam
 * @param {{width: number, system: System, label: string}} how
 */
export function seamStrips(seam, how) {
  const longer = Math.max(seam.first_mm, seam.second_mm, 1);
  const shorter = Math.min(seam.first_mm, seam.second_mm);
  const k = (how.width - 2 * PAD) / longer;
  /** @param {number} mm */
  const x = (mm) => r2(PAD + mm * k);
  // Notches are told in the first side's length; on the second strip they stand in its own.
  const own = seam.first_mm > 0 ? seam.second_mm / seam.first_mm : 1;
  const apart = seam.findings.some((f) => f.code === "seam-lengths-differ");
  const [y, text] = [seam.first_mm > seam.second_mm ? UPPER : LOWER, showLength(Math.abs(seam.difference_mm), how.system)];
  return html`<svg class="seam-drawing" width=${how.width} height=${TALL} viewBox=${`0 0 ${how.width} ${TALL}`} role="img" aria-label=${how.label}>
    <path class="l l-cut" d=${`M${x(0)} ${UPPER}H${x(seam.first_mm)}M${x(0)} ${UPPER - 5}v10M${x(seam.first_mm)} ${UPPER - 5}v10`}></path>
    <path class="l l-laid" d=${`M${x(0)} ${LOWER}H${x(seam.second_mm)}`}></path>
    <path class="l l-laid-end" d=${`M${x(0)} ${LOWER - 5}v10M${x(seam.second_mm)} ${LOWER - 5}v10`}></path>
    ${strip(seam.first, seam.first_joins, seam.first_mm, UPPER, -1)} ${strip(seam.second, seam.second_joins, seam.second_mm, LOWER, 1)}
    ${seam.notches.map((n) => [
      n.first_mm === null ? nothing : svg`<path class="l l-notch" d=${`M${x(n.first_mm)} ${UPPER}v9`}></path>`,
      n.second_mm === null ? nothing : svg`<path class="l l-notch" d=${`M${x(n.second_mm * own)} ${LOWER}v-9`}></path>`,
    ])}
    ${apart
      ? svg`<path class="l seam-excess" d=${`M${x(shorter)} ${y}H${x(longer)}`}></path>
          <text class="edge-name picked" x=${x(longer)} y=${y === UPPER ? UPPER - 12 : LOWER + 22} text-anchor="end">${text}</text>`
      : nothing}
  </svg>`;

  /**
   * Names of a strip's pieces, each over its own stretch if there is room, and the joins between.
   * @param {string} name @param {readonly JoinView[]} joins @param {number} whole mm @param {number} y @param {number} way
   */
  function strip(name, joins, whole, y, way) {
    const names = joins.length ? [joins[0].before, ...joins.map((j) => j.after)] : [name];
    const places = [0, ...joins.map((j) => j.sewn_mm), whole];
    const kept = apart && y === (seam.first_mm > seam.second_mm ? UPPER : LOWER) ? (text.length + 1) * LETTER_PX : 0;
    return [
      names.map((n, i) => {
        const room = (places[i + 1] - places[i]) * k - (i === names.length - 1 ? kept : 0);
        const said = pieceOf(n);
        return said.length * LETTER_PX < room
          ? svg`<text class="edge-name" x=${r2(x(places[i]) + room / 2)} y=${way < 0 ? y - 12 : y + 22} text-anchor="middle">${said}</text>`
          : nothing;
      }),
      joins.map((j) => svg`<path class="l l-join" d=${`M${x(j.sewn_mm)} ${y - 7}v14`}></path>`),
    ];
  }
}
