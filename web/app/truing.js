/**
 * Seams walked: do the pieces of a style sew together? Each declared pair drawn, its differences in a list beside it.
 */

/** @import {Trouble} from "./context.js" */
/** @import {Finding, Mend, Seam, StyleDetail} from "./wire.js" */
import { html, nothing, render } from "../vendor/lit-html/lit-html.js";
import { getStyle, getTruing, putSheet, redoStyle, tryChange, undoStyle } from "./api.js";
import { findingsView, trouble, troubleView } from "./context.js";
import { seamDrawing, seamStrips } from "./draw/seam.js";
import { readHabits } from "./prefs.js";
import { routeHash } from "./state.js";
import { showLength } from "./units.js";

/** Room for one drawing, px: never wider than the window. */
const wide = () => Math.max(240, Math.min(620, window.innerWidth - 48));

const root = /** @type {HTMLElement} */ (document.getElementById("truing"));
const id = new URLSearchParams(location.search).get("style") ?? "";
const { system, words } = readHabits();
document.documentElement.lang = words === "us" ? "en-US" : "en-GB";

/** A joined edge that turns by more is a finding of the service's, degrees. */
const SMOOTH_DEG = 3;

/** @param {number} mm */
const len = (mm) => showLength(mm, system);

/** @typedef {{seams: Seam[], findings: Finding[]}} Truing */

/** @type {StyleDetail | null} */
let style = null;
/** @type {Truing | null} */
let walked = null;
/** Why there is nothing to show. @type {Trouble | null} */
let lost = null;
let busy = false;
/** How wide the drawings are now, px. */
let drawn = 0;
/** What was done last, for everybody. */
let said = "";
/** @type {Trouble | null} */
let failed = null;

/** Do something to the style, then walk its seams again. @param {() => Promise<unknown>} work @param {string} text */
async function act(work, text) {
  if (busy) return;
  busy = true;
  said = "";
  failed = null;
  try {
    await work();
    said = text;
  } catch (error) {
    failed = trouble(error);
  }
  busy = false;
  await open();
}

/** Take a proposal: an ordinary change, which Undo takes back. @param {Mend} mend */
const take = (mend) =>
  act(async () => {
    if (!style) return;
    const answer = await tryChange(style.id, mend.piece, mend.change);
    await putSheet(style.id, answer.sheet, style.revision);
  }, `${mend.piece}: ${mend.text}.`);

async function open() {
  try {
    [style, walked] = await Promise.all([getStyle(id), getTruing(id)]);
    document.title = `Seams walked: ${style.name} · grainfold`;
    lost = null;
  } catch (error) {
    lost = trouble(error);
  }
  paint();
}

function paint() {
  drawn = wide();
  const content = lost
    ? html`<h1>Seams walked</h1>${troubleView(lost)}`
    : style && walked
      ? walkView(style, walked)
      : nothing;
  render(
    html`<header class="head"><a class="brand" href="/">grainfold</a>
        <nav class="stations" aria-label="Back to the desk"><a href="/#/pieces">Pieces</a></nav></header>
      <main id="main">${content}</main>`,
    root,
  );
}

/** @param {StyleDetail} found @param {Truing} truing */
function walkView(found, truing) {
  return html`<p class="small"><a href=${`/${routeHash({ page: "pieces", style: id })}`}>${found.name}</a></p>
    <div class="row between style-head"><h1>Seams walked</h1>
      <div class="row">
        <button class="button slight" ?disabled=${!found.can_undo} @click=${() => act(() => undoStyle(found.id), "Undone.")}>Undo</button>
        <button class="button slight" ?disabled=${!found.can_redo} @click=${() => act(() => redoStyle(found.id), "Done again.")}>Redo</button>
      </div></div>
    ${troubleView(failed)}
    <p class="measure edges-intro">Edges that are said to be sewn together, drawn from one end to the other on the net line; a row of edges is laid end to end, a short stroke where two meet.
      Solid: the first edge. Dashed: the second. Below them the same as straight lines, as long as what is sewn. Sewn lengths leave out dart mouths and stated
      ease. What would mend a seam is drawn in long dashes, and changes nothing before it is taken.</p>
    <p role="status" class=${said ? "say" : "unseen"}>${said}</p>
    ${truing.seams.length ? nothing : html`<p class="say">No edge of this style says what it is sewn to. Pick an edge of a piece and name its partner.</p>`}
    ${truing.seams.length ? summaryView(truing.seams) : nothing}
    ${findingsView(truing.findings)}
    <ul class="seams">${truing.seams.map(seamView)}</ul>`;
}

/** How many seams meet, and the way to those that do not. @param {readonly Seam[]} seams */
function summaryView(seams) {
  const off = seams.map((seam, i) => ({ seam, i })).filter(({ seam }) => seam.findings.length);
  const one = seams.length === 1;
  if (!off.length) return html`<p>${one ? "The one seam walks" : `All ${seams.length} seams walk`} true.</p>`;
  return html`<p>${seams.length - off.length} of ${seams.length} ${one ? "seam walks" : "seams walk"} true. To look at:
    ${off.map(({ seam, i }, n) => html`${n ? ", " : ""}<a href=${`#seam-${i + 1}`}>${seam.first} to ${seam.second}</a>`)}.</p>`;
}

/** @param {Seam} seam @param {number} i */
function seamView(seam, i) {
  return html`<li id=${`seam-${i + 1}`}>
    <div>${seamDrawing(seam, { width: wide(), label: `${seam.second} laid along ${seam.first}, as they are drawn` })}
      ${seamStrips(seam, { width: wide(), system, label: "The same as straight lines of their sewn lengths; the list beside it says where they differ" })}</div>
    <div class="seam-words">
      <h2>${seam.first} to ${seam.second}</h2>
      <ul>
        <li>Sewn length: ${len(seam.first_mm)} and ${len(seam.second_mm)}; difference ${len(Math.abs(seam.difference_mm))}</li>
        ${seam.notches.map((n) => html`<li>Notch${n.name ? ` ${n.name}` : ""}: ${notchText(n)}</li>`)}
        ${[...seam.first_joins, ...seam.second_joins].map((j) => html`<li>${j.before} and ${j.after} are laid end to end: ${turnText(j.turn_deg)} where they meet</li>`)}
        <li>Joined edge: ${turnText(seam.turn_at_start_deg)} at the start, ${turnText(seam.turn_at_end_deg)} at the end</li>
      </ul>
      ${findingsView(seam.findings, false)}
      ${seam.mends.length ? nothing : seam.proposals.length ? html`<p class="small">What would mend it: ${seam.proposals.join("; ")}.</p>` : nothing}
      ${seam.mends.length
        ? html`<p class="small">What would mend it:</p><ul class="mends">${seam.mends.map((m, i) => html`<li><b>${i + 1}</b> ${m.piece}: ${m.text} <button class="button slight" aria-label=${`Take proposal ${i + 1} for ${seam.first} and ${seam.second}: ${m.piece}, ${m.text}`} @click=${() => take(m)}>Take it</button></li>`)}</ul>`
        : nothing}
    </div>
  </li>`;
}

/** @param {Seam["notches"][number]} n */
function notchText(n) {
  if (n.first_mm === null) return `at ${len(n.second_mm ?? 0)} on the second edge only`;
  if (n.second_mm === null) return `at ${len(n.first_mm)} on the first edge only`;
  return `at ${len(n.first_mm)}, ${Math.abs(n.miss_mm) < 0.05 ? "meets its partner" : `${len(Math.abs(n.miss_mm))} from its partner`}`;
}

/** @param {number} deg */
function turnText(deg) {
  const whole = Math.round(Math.abs(deg));
  if (whole < 1) return "smooth";
  const degrees = `${whole} ${whole === 1 ? "degree" : "degrees"}`;
  return Math.abs(deg) <= SMOOTH_DEG ? `smooth within ${degrees}` : `${deg > 0 ? "a point" : "a hollow"} of ${degrees}`;
}

open();
window.addEventListener("resize", () => wide() !== drawn && paint());
