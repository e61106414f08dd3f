/**
 * As much of a lay as goes on cloth that is too short for it: drawn as a layout of its own.
 */

/** @import {Context} from "../context.js" */
/** @import {ClothResult, LayDetail} from "../wire.js" */
import { html, nothing } from "../../vendor/lit-html/lit-html.js";
import { layoutDrawing } from "../draw/layout.js";
import { HAND_TEXT, handLetter, repeatOf } from "../state.js";
import { showPercent } from "../units.js";
import { fitted } from "./board.js";
import { foldText } from "./words.js";

/** @param {Context} context @param {LayDetail} lay @param {ClothResult} result */
export function heldView(context, lay, result) {
  const { held } = result;
  if (!held) return nothing;
  /** @type {ClothResult} */
  const part = { ...result, ...held };
  const { width, height, view } = fitted(part);
  const left = held.not_laid.map((a) => (a.drawn + a.turned > 1 ? `${a.piece} (${a.drawn + a.turned})` : a.piece));
  /** @param {import("../wire.js").Placement} p */
  const describe = (p) => `${p.piece}, ${HAND_TEXT[handLetter(p)]}`;
  return html`<section class="lay-held" aria-label=${`What goes on the ${result.cloth} cloth that is there`}>
    <h2>What goes on the cloth that is there</h2>
    <p class="sentence quiet">${context.say(`Laid ${foldText(held.fold)}, ${held.placements.length} ${held.placements.length === 1 ? "cutting goes" : "cuttings go"} on it, ${showPercent(held.utilisation)} of ${context.clothLen(held.length_mm)}; left over: ${left.join(", ")}.`)}</p>
    <svg width=${width} height=${height} viewBox=${`0 0 ${width} ${height}`} role="img" aria-label=${`Layout of what goes on the ${result.cloth} cloth: ${held.placements.map(describe).join("; ")}.`}>
      ${layoutDrawing(part, { view, width, height, system: context.system, repeat: repeatOf(lay, result.cloth), say: context.say })}
    </svg>
    <ol class="steps">${held.steps_text.map((t) => html`<li>${context.say(t)}</li>`)}</ol>
  </section>`;
}
