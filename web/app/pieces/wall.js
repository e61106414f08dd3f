/**
 * The wall: all pieces of the open style drawn to one scale, cloth by cloth, and what may be done with
 * the style as a whole.
 */

/** @import {Desk} from "./desk.js" */
/** @import {PieceView, StyleDetail} from "../wire.js" */
import { html, nothing } from "../../vendor/lit-html/lit-html.js";
import { deleteStyle, putSheet, redoStyle, undoStyle } from "../api.js";
import { bodyPart } from "../body_part.js";
import { findingsView } from "../context.js";
import { pieceBox, pieceDrawing } from "../draw/piece.js";
import { routeHash } from "../state.js";

/** @param {Desk} desk */
export function wallPart(desk) {
  const { context, attempt } = desk;

  /** @param {StyleDetail} style @param {"undo" | "redo"} way */
  const step = (style, way) =>
    attempt(async () => {
      context.keepStyle(await (way === "undo" ? undoStyle : redoStyle)(style.id));
      await context.refreshStyles();
    });

  /** @type {Promise<unknown>} each change is made from the last answer */
  let queue = Promise.resolve();
  const body = bodyPart(context, (change, said) => {
    queue = queue.then(() =>
      attempt(async () => {
        const style = context.style;
        if (!style) return;
        context.keepStyle(await putSheet(style.id, change(style.sheet), style.revision));
        context.announce(said);
        await context.refreshStyles();
      }),
    );
  });

  /** @param {StyleDetail} style */
  function remove(style) {
    if (!confirm(`Take “${style.name}” and its lays off the desk? The file it came from stays where it is.`)) return;
    attempt(async () => {
      await deleteStyle(style.id);
      context.style = null;
      await context.refreshStyles();
      context.go({ page: "pieces", style: context.styles[0]?.id });
    });
  }

  return { view: wallView };

  /** @param {StyleDetail} style */
  function wallView(style) {
    const roles = [...new Set(style.pieces.map((p) => p.cloth))];
    const k = wallScale(style.pieces);
    const refused = style.pieces.filter((p) => !p.cut_line).length;
    return html`
      <div class="row between style-head">
        <div>
          <h1>${style.name}</h1>
          ${style.note ? html`<p class="soft measure">${style.note}</p>` : nothing}
        </div>
        <div class="row">
          <button class="button slight" ?disabled=${desk.busy() || !style.can_undo} @click=${() => step(style, "undo")}>Undo</button>
          <button class="button slight" ?disabled=${desk.busy() || !style.can_redo} @click=${() => step(style, "redo")}>Redo</button>
          <button class="button slight" ?disabled=${desk.busy()} @click=${() => remove(style)}>Take it off the desk</button>
          <a class="button first" href=${routeHash({ page: "cloth", style: style.id })}>On to the cloth</a>
        </div>
      </div>
      ${refused ? nothing : html`<p class="soft small">Cut pieces at true size, as a file: ${["pdf", "svg", "dxf"].map((kind) => html`<a href=${`/api/styles/${encodeURIComponent(style.id)}/cut.${kind}`} download>${kind.toUpperCase()}</a> `)} &nbsp;·&nbsp; <a href=${`/truing?style=${encodeURIComponent(style.id)}`}>Walk the seams</a>: do they sew together?</p>`}
      ${refused ? html`<p class="say refused">${refused === 1 ? "One piece" : `${refused} pieces`} cannot be cut as drawn; the lay leaves out nothing silently, so mend ${refused === 1 ? "it" : "them"} first.</p>` : nothing}
      ${findingsView(style.findings.filter((f) => f.level !== "note"))}
      ${roles.map((role) => {
        const pieces = style.pieces.filter((p) => p.cloth === role);
        return html`<section class="wall-part">
          <h2>${role} <span class="soft">· ${pieces.length} ${pieces.length === 1 ? "piece" : "pieces"}</span></h2>
          <ul class="wall">
            ${pieces.map((p) => wallPiece(style, p, k))}
          </ul>
        </section>`;
      })}
      ${body.view(style)}
      ${notesView(style)}
      <p class="legend small">${legend()}</p>
    `;
  }

  /** @param {StyleDetail} style */
  function notesView(style) {
    const notes = style.findings.filter((f) => f.level === "note");
    return notes.length
      ? html`<details class="notes"><summary>${notes.length} ${notes.length === 1 ? "note" : "notes"} from reading ${style.source}</summary>${findingsView(notes)}</details>`
      : nothing;
  }

  /** @param {StyleDetail} style @param {PieceView} piece @param {number} k */
  function wallPiece(style, piece, k) {
    const worst = piece.findings.find((f) => f.level === "refused") ?? piece.findings.find((f) => f.level === "warning");
    return html`<li>
      <a class="wall-piece" href=${routeHash({ page: "piece", style: style.id, piece: piece.name })}>
        ${pieceDrawing(piece, { k, label: `${piece.name}, drawn to scale` })}
        <span class="wall-name">${piece.name}</span>
      </a>
      <span class="small">${piece.count_text}</span>
      <span class="small soft">${sizeText(piece)}</span>
      ${worst ? html`<span class="small say ${worst.level}">${worst.message}</span>` : nothing}
    </li>`;
  }

  /** The size in the chosen units, in words. @param {PieceView} piece */
  function sizeText(piece) {
    if (context.system === "metric") return piece.size_text;
    const box = pieceBox({ ...piece, cut_line: null });
    return `${context.len(box.y1 - box.y0)} tall, ${context.len(box.x1 - box.x0)} wide`;
  }

  function legend() {
    return context.say(
      "Solid: cut line. Dashed: net line, where the seam runs. Dash and dot with hatching: fold, never cut. Arrow: grain, along the selvedge; one head means one way only. Short strokes: notches.",
    );
  }
}

/** One scale for the wall: the largest piece about 300 px tall or wide, small ones never lost. @param {readonly PieceView[]} pieces */
function wallScale(pieces) {
  const most = Math.max(1, ...pieces.map((p) => {
    const box = pieceBox(p);
    return Math.max(box.y1 - box.y0, (box.x1 - box.x0) * 1.1);
  }));
  return Math.min(1.2, 300 / most);
}
