/**
 * What a piece is, as a sentence: how many, from which cloth, on which grain, drawn as what.
 */

/** @import {Hub} from "./hub.js" */
/** @import {PieceView} from "../wire.js" */
import { html, nothing } from "../../vendor/lit-html/lit-html.js";
import { choiceBlank, countBlank } from "../blanks.js";
import { pieceBox } from "../draw/piece.js";
import { changePiece, originOf } from "../sheet.js";

/** @type {readonly [string, string][]} */
const GRAIN_RULES = [
  ["either way", "either way along the selvedge"],
  ["one way", "one way only, as the arrow points"],
  ["quarter turns", "along or across"],
  ["bias", "on the bias, at 45 degrees"],
  ["any way", "any way at all"],
];

/** @param {Hub} hub @param {PieceView} p */
export function sentenceView(hub, p) {
  const { context, edit } = hub;
  const { troubles } = context;
  const roles = [...new Set([...hub.style().pieces.map((x) => x.cloth), "shell", "lining", "interfacing"])];
  const origin = originOf(hub.style().sheet, p.name);
  return html`<p class="sentence piece-sentence">
      Cut
      ${countBlank({ id: "piece-drawn", label: "How many as drawn", value: p.count.drawn, least: 0, most: 99, troubles, onChange: (v) => setCount({ drawn: v, turned: p.count.turned }) })}
      ${p.on_fold ? "whole on the fold" : "as drawn"} and
      ${countBlank({ id: "piece-turned", label: "How many turned over", value: p.count.turned, least: 0, most: 99, troubles, onChange: (v) => setCount({ drawn: p.count.drawn, turned: v }) })}
      turned over, from
      ${choiceBlank({ id: "piece-cloth", label: "Cloth role", value: p.cloth, options: roles.map((r) => [r, r]), onChange: (v) => edit((s) => changePiece(s, p.name, { cloth: v }), `${p.name} is cut from ${v}.`) })},
      with the grain
      ${choiceBlank({ id: "piece-rule", label: "Grain rule", value: p.grain_rule, options: GRAIN_RULES.map(([v, t]) => [v, context.say(t)]), onChange: (v) => edit((s) => changePiece(s, p.name, { grain_rule: v }), `Grain: ${v}.`) })}.
      Its grain line
      ${choiceBlank({
        id: "piece-grain",
        label: "Where the grain line runs",
        value: "",
        options: /** @type {[string, string][]} */ ([["", p.grain ? "runs as drawn" : "is not drawn yet"], ["up", "runs up the drawing"], ["along", "runs across the drawing"]]),
        onChange: (v) => v && edit((s) => changePiece(s, p.name, { grain: /** @type {"up" | "along"} */ (v) }), "The grain line is set."),
      })}.
      The drawn line is
      ${choiceBlank({ id: "piece-drawn-as", label: "What the drawn line is", value: p.drawn_as, options: [["net", "the net line"], ["cut", "the cut line"]], onChange: (v) => edit((s) => changePiece(s, p.name, { drawn: v }), `Drawn as ${v} line.`) })}.
    </p>
    <p class="soft">${p.count_text}; ${sizeText()}${p.area_mm2 ? html`; ${areaText(p.area_mm2)}` : nothing}</p>
    ${origin ? html`<p class="small soft">It came from: ${origin}</p>` : nothing}`;

  /** @param {{drawn: number, turned: number}} count */
  function setCount(count) {
    if (count.drawn + count.turned === 0) {
      troubles.set("piece-drawn", "0", "A piece that is cut no times belongs out of the style: take it out below, or give a count.");
      return;
    }
    edit((s) => changePiece(s, p.name, { count }), `Count: ${count.drawn} as drawn, ${count.turned} turned over.`);
  }

  function sizeText() {
    if (context.system === "metric") return p.size_text;
    const box = pieceBox({ ...p, cut_line: null });
    return `${context.len(box.y1 - box.y0)} tall, ${context.len(box.x1 - box.x0)} wide`;
  }

  /** @param {number} mm2 */
  function areaText(mm2) {
    return context.system === "metric" ? `cut area ${Math.round(mm2 / 100)} cm²` : `cut area ${Math.round(mm2 / 645.16)} square inches`;
  }
}
