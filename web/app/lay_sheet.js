/**
 * The lay sheet: one cloth of a lay on paper, with every distance and a cutting list to tick off.
 * Legible in black and white; what the browser prints is what is seen.
 */

/** @import {Asked, ClothResult, LayDetail} from "./wire.js" */
import { html, nothing, render } from "../vendor/lit-html/lit-html.js";
import { getLay } from "./api.js";
import { findingsView, fractions, trouble, troubleView } from "./context.js";
import { layoutDrawing } from "./draw/layout.js";
import { clothBox, fitView, MARGIN_PX } from "./draw/spread.js";
import { readHabits } from "./prefs.js";
import { distances, FOLDS, HAND_TEXT, handLetter, repeatOf, routeHash } from "./state.js";
import { showClothLength, showLength } from "./units.js";
import { say as saySet } from "./words.js";

/** Size of the drawing on the sheet, px; a printer scales it to the page. */
const WIDTH_PX = 1040;
const MOST_PX = 620;

const root = /** @type {HTMLElement} */ (document.getElementById("sheet"));
const asked = new URLSearchParams(location.search);
const { system, words } = readHabits();
document.documentElement.lang = words === "us" ? "en-US" : "en-GB";

/** @param {string} text */
const say = (text) => saySet(text, words);
/** @param {number} mm */
const len = (mm) => showLength(mm, system);

async function open() {
  try {
    const lay = await getLay(asked.get("lay") ?? "");
    const result = lay.cloths.find((c) => c.cloth === asked.get("cloth")) ?? lay.cloths[0];
    document.title = `Lay sheet: ${lay.style}, ${result?.cloth ?? ""} · grainfold`;
    render(result ? sheet(lay, result) : html`<h1>Nothing is laid yet</h1><p><a href=${`/${routeHash({ page: "layout", lay: lay.id })}`}>Back to the layout</a></p>`, root);
  } catch (error) {
    render(html`<h1>No lay sheet</h1>${troubleView(trouble(error))}<p><a href="/">To the desk</a></p>`, root);
  }
}

/** @param {LayDetail} lay @param {ClothResult} result */
function sheet(lay, result) {
  const fold = say(FOLDS.find(([v]) => v === result.fold)?.[1] ?? result.fold);
  return html`
    <header class="sheet-head">
      <div>
        <h1>${lay.style}: ${result.cloth}</h1>
        <p>${lay.request.copies > 1 ? `${lay.request.copies} garments; ` : ""}cloth ${fold}${result.nap ? ", one way up" : ""}; usable width ${len(result.usable_width_mm)}, each ${say("selvedge")} ${len(result.selvedge_mm)}</p>
      </div>
      <p class="sheet-buy">${result.fits === null ? html`buy <b>${fractions(result.buy_text)}</b>` : result.fits ? html`fits, leaves <b>${fractions(showClothLength(result.slack_mm ?? 0, system))}</b>` : html`short of <b>${fractions(showClothLength(result.shortage_mm ?? 0, system))}</b>`}</p>
      <p class="row sheet-tools"><button class="button first" @click=${() => window.print()}>Print</button><a class="button" href=${`/${routeHash({ page: "layout", lay: lay.id, cloth: result.cloth })}`}>Back to the layout</a>${lay.cloths.filter((c) => c !== result).map((c) => html`<a class="button" href=${`/sheet?lay=${encodeURIComponent(lay.id)}&cloth=${encodeURIComponent(c.cloth)}`}>Sheet for ${c.cloth}</a>`)}</p>
    </header>
    ${lay.state === "searching" || lay.state === "queued" ? html`<p class="say warning">The search still runs: load this sheet again before you cut by it.</p>` : nothing}
    ${result.not_laid.length ? html`<p class="say refused">Not laid for want of cloth: ${result.not_laid.map((a) => a.piece).join(", ")}.</p>` : nothing}
    ${findingsView(result.findings ?? [])}
    ${drawing(lay, result)}
    <p class="small">${[...new Set(result.placements.map(handLetter))].map((l, i) => html`${i ? "; " : ""}<b>${l}</b> ${HAND_TEXT[l]}`)}. ${say("Solid: cut. Dashed: net line. Dash and dot with hatching: fold, do not cut. Arrow: grain, along the selvedge; one head means one way.")}</p>
    <div class="sheet-lists">
      ${placesTable(result)}
      <div>
        ${result.steps_text.length ? html`<h2>How to lay the cloth</h2><ol class="steps">${result.steps_text.map((t) => html`<li>${say(t)}</li>`)}</ol>` : nothing}
        ${cuttingList(result)}
      </div>
    </div>
    <p class="small">${capital(result.terms.map((t) => `${say(t.label)}: ${len(t.mm)}`).join("; "))}. Measure the cloth before you cut: width, length, and that its end is square.</p>
  `;
}

/** @param {LayDetail} lay @param {ClothResult} result */
function drawing(lay, result) {
  const box = clothBox(result);
  const k = Math.min((WIDTH_PX - MARGIN_PX) / (box.x1 - box.x0 || 1), (MOST_PX - MARGIN_PX) / (box.y1 - box.y0 || 1));
  const width = Math.round(k * (box.x1 - box.x0) + MARGIN_PX);
  const height = Math.round(k * (box.y1 - box.y0) + MARGIN_PX);
  return html`<svg class="sheet-drawing" width=${width} height=${height} viewBox=${`0 0 ${width} ${height}`} role="img" aria-label=${`Layout of the ${result.cloth} cloth; every distance is in the table below.`}>
    ${layoutDrawing(result, { view: fitView(box, width, height), width, height, system, numbered: true, repeat: repeatOf(lay, result.cloth), say })}
  </svg>`;
}

/** @param {ClothResult} result */
function placesTable(result) {
  const folded = result.zones.some((z) => z.fold_edges.includes("y0"));
  return html`<div class="scroll-x" tabindex="0" role="region" aria-label="Where each piece lies"><table class="sheet-places">
    <caption>Where each piece lies, to its nearest point</caption>
    <thead><tr><th scope="col" class="num">No.</th><th scope="col">Piece</th><th scope="col">Hand</th><th scope="col" class="num">From the end</th>${folded ? html`<th scope="col" class="num">From the fold</th>` : nothing}<th scope="col" class="num">${say("From the selvedge")}</th><th scope="col" class="num">${say("Grain line to selvedge")}</th></tr></thead>
    <tbody>${result.placements.map((p, i) => {
      const d = distances(p, result);
      const level = Math.abs(d.grain_tail - d.grain_head) < 0.5;
      return html`<tr><td class="num">${i + 1}</td><th scope="row">${p.piece}</th><td>${handLetter(p)}</td><td class="num">${fractions(len(d.end))}</td>${folded ? html`<td class="num">${d.fold === null ? "–" : p.on_fold ? "on it" : fractions(len(d.fold))}</td>` : nothing}<td class="num">${fractions(len(d.selvedge))}</td><td class="num">${level ? fractions(len(d.grain_tail)) : html`${fractions(len(d.grain_tail))} to ${fractions(len(d.grain_head))}`}</td></tr>`;
    })}</tbody>
  </table></div>`;
}

/** @param {ClothResult} result */
function cuttingList(result) {
  return html`<table class="sheet-cutting">
    <caption>Cutting list: tick each as it is cut</caption>
    <thead><tr><th scope="col">Piece</th><th scope="col">As drawn</th><th scope="col">Turned over</th></tr></thead>
    <tbody>${result.asked.map((a) => html`<tr><th scope="row">${a.piece}</th><td>${boxes(a, "drawn")}</td><td>${boxes(a, "turned")}</td></tr>`)}</tbody>
  </table>`;
}

/** @param {Asked} a @param {"drawn" | "turned"} hand */
function boxes(a, hand) {
  if (!a[hand]) return "–";
  return html`<span class="unseen">${a[hand]}</span><span aria-hidden="true">${Array.from({ length: a[hand] }, () => html`<span class="tick"></span>`)}</span>`;
}

/** @param {string} text */
function capital(text) {
  return text.charAt(0).toUpperCase() + text.slice(1);
}

open();
