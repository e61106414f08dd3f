/**
 * How edges become cut lines: a drawing for each corner and dart treatment, cut by the service itself.
 */

/** @import {Example} from "./wire.js" */
import { html, render } from "../vendor/lit-html/lit-html.js";
import { listEdges } from "./api.js";
import { trouble, troubleView } from "./context.js";
import { pieceBox, pieceDrawing } from "./draw/piece.js";
import { readHabits } from "./prefs.js";
import { showLength } from "./units.js";
import { say as saySet } from "./words.js";

/** Room for one drawing, px. */
const WIDE_PX = 340;
const TALL_PX = 280;
const MARGIN_PX = 12;
/** No example is drawn larger than this, px per mm. */
const MOST_K = 1.5;

const root = /** @type {HTMLElement} */ (document.getElementById("edges"));
const { system, words } = readHabits();
document.documentElement.lang = words === "us" ? "en-US" : "en-GB";

/** @param {string} text */
const say = (text) => saySet(text, words);

async function open() {
  let content;
  try {
    content = html`<ul class="examples">${(await listEdges()).map(exampleView)}</ul>`;
  } catch (error) {
    content = troubleView(trouble(error));
  }
  render(
    html`<header class="head"><a class="brand" href="/">grainfold</a>
        <nav class="stations" aria-label="Back to the desk"><a href="/#/pieces">Pieces</a></nav></header>
      <main id="main">
        <h1>How edges become cut lines</h1>
        <p class="measure edges-intro">Each piece below was cut by the service just as yours are. An edge keeps exactly its
          allowance; what happens where two edges meet is chosen by their kind and angle, unless the edge says otherwise.
          The figures are the widths of the allowances.</p>
        <p class="small soft">${say("Solid: cut. Dashed: net line. Long dashes: inlay. Dotted: dart. Dash and dot with hatching: fold, do not cut. Dotted and tinted: the allowance where it lies when it is folded. Short strokes on the cut line: notches; circle: drill mark.")}</p>
        ${content}
      </main>`,
    root,
  );
}

/** @param {Example} example */
function exampleView({ code, title, text, piece, widths_mm, folded }) {
  const box = pieceBox(piece);
  const k = Math.min((WIDE_PX - 2 * MARGIN_PX) / (box.x1 - box.x0), (TALL_PX - 2 * MARGIN_PX) / (box.y1 - box.y0), MOST_K);
  const said = widths_mm.map((widths, i) => (piece.edges[i].kind === "fold" ? "" : widths.map((mm) => showLength(mm, system)).join(" to ")));
  return html`<li id=${code}>
    <div class="example-drawing">${pieceDrawing({ ...piece, grain: null }, { k, margin: MARGIN_PX, label: say(`${title}: net line and cut line`), said, folded })}</div>
    <h2>${say(title)}</h2>
    <p>${say(text)}</p>
  </li>`;
}

open();
