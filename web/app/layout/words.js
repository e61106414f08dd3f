/**
 * What is said beside a layout: how to lay the cloth, folds that were tried, where each piece lies.
 */

/** @import {Context} from "../context.js" */
/** @import {ClothResult, LaySummary} from "../wire.js" */
import { html, nothing } from "../../vendor/lit-html/lit-html.js";
import { findingsView, fractions } from "../context.js";
import { distances, FOLDS, HAND_TEXT, handLetter, pieceKey, routeHash } from "../state.js";

/** @param {string} fold */
export const foldText = (fold) => FOLDS.find(([v]) => v === fold)?.[1] ?? fold;

/**
 * @param {Context} context
 * @param {ClothResult} result
 * @param {{picked: string, pick: (key: string) => void}} choice
 */
export function sideView(context, result, choice) {
  const tried = [...result.tried].sort((a, b) => a.buy_mm - b.buy_mm || a.length_mm - b.length_mm);
  const shownTry = tried.findIndex((t) => t.fold === result.fold);
  return html`<div class="layout-words">
    <div>
      ${findingsView(result.findings ?? [])}
      ${result.steps_text.length ? html`<h2>How to lay the cloth</h2><ol class="steps">${result.steps_text.map((t) => html`<li>${context.say(t)}</li>`)}</ol>` : nothing}
      ${result.tried.length > 1
        ? html`<h2>Folds that were tried</h2>
            <table><thead><tr><th scope="col">Laid</th><th scope="col" class="num">Length</th><th scope="col" class="num">To buy</th></tr></thead>
            <tbody>${tried.map(
              (t, i) => html`<tr class=${i === shownTry ? "chosen" : ""}><th scope="row">${foldText(t.fold)}${t.fold_depth_mm ? `, ${context.len(t.fold_depth_mm)} deep` : ""}${i === shownTry ? " (shown)" : ""}</th><td class="num">${fractions(context.clothLen(t.length_mm))}</td><td class="num">${fractions(t.buy_text)}</td></tr>`,
            )}</tbody></table>`
        : nothing}
    </div>
    <div>
      ${placesView(context, result, choice)}
    </div>
  </div>`;
}

/** @param {Context} context @param {ClothResult} result @param {{picked: string, pick: (key: string) => void}} choice */
function placesView(context, result, { picked, pick }) {
  const rows = result.placements;
  return html`<h2>Where each piece lies</h2>
    <div class="scroll-x"><table class="places">
      <thead><tr><th scope="col">Piece</th><th scope="col"><span class="unseen">Hand</span></th><th scope="col" class="num">From the end</th><th scope="col" class="num">From the fold</th><th scope="col" class="num">${context.say("From the selvedge")}</th></tr></thead>
      <tbody>${rows.map((p) => {
        const key = pieceKey(p);
        const d = distances(p, result);
        return html`<tr class=${key === picked ? "picked" : ""}>
          <th scope="row"><button class="plain" aria-pressed=${String(key === picked)} @click=${() => pick(key)}>${p.piece}${(p.copy > 1 || rows.some((o) => o.piece === p.piece && o !== p)) ? ` ${p.copy}` : ""}</button></th>
          <td title=${HAND_TEXT[handLetter(p)]}>${handLetter(p)}</td>
          <td class="num">${fractions(context.len(d.end))}</td>
          <td class="num">${p.on_fold ? "on it" : d.fold === null ? "–" : fractions(context.len(d.fold))}</td>
          <td class="num">${fractions(context.len(d.selvedge))}</td></tr>`;
      })}</tbody>
    </table></div>`;
}

/** Other lays to go back to. @param {readonly LaySummary[]} others @param {string} now id of the one shown */
export function othersView(others, now) {
  const rest = others.filter((l) => l.id !== now).slice(0, 8);
  return rest.length
    ? html`<details class="notes"><summary>Earlier lays</summary><ul>${rest.map(
        (l) => html`<li><a href=${routeHash({ page: "layout", lay: l.id })}>${l.style}</a> <span class="soft">${new Date(l.created).toLocaleString(document.documentElement.lang)}: ${l.summary.map((s) => `${s.cloth} ${s.buy_text}`).join(", ") || l.state}</span></li>`,
      )}</ul></details>`
    : nothing;
}

/** Links to the lay sheet as files. @param {string} id @param {string} cloth */
export const files = (id, cloth) =>
  ["pdf", "svg", "dxf"].map((kind) => html`<a href=${`/api/lays/${encodeURIComponent(id)}/sheet.${kind}?cloth=${encodeURIComponent(cloth)}`} download>${kind.toUpperCase()}</a> `);
