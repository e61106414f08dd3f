/**
 * One piece: pick an edge by eye or in the list, type an allowance, see the cut line at once; change
 * its shape and see the change dashed before it is taken.
 */

/** @import {Context, Page, Trouble} from "./context.js" */
/** @import {Hub} from "./piece/hub.js" */
/** @import {Box} from "./geometry.js" */
/** @import {View} from "./draw/lines.js" */
/** @import {PieceView, StyleDetail} from "./wire.js" */
import { html, nothing } from "../vendor/lit-html/lit-html.js";
import { getStyle, putSheet, redoStyle, undoStyle, ApiError } from "./api.js";
import { findingsView, trouble, troubleView } from "./context.js";
import { handleDrawing } from "./draw/handles.js";
import { pieceBox, pieceDrawing } from "./draw/piece.js";
import { around } from "./geometry.js";
import { changePart } from "./piece/changes.js";
import { edgesView } from "./piece/edges.js";
import { notchPart } from "./piece/notches.js";
import { sentenceView } from "./piece/sentence.js";
import { withoutPiece } from "./sheet.js";
import { routeHash } from "./state.js";

/** @param {Context} context @returns {Page} */
export function piecePage(context) {
  let name = "";
  let picked = 0;
  let busy = false;
  /** @type {Trouble | null} */
  let failed = null;
  /** @type {Promise<unknown>} changes go out one after the other: each is made from the last answer */
  let queue = Promise.resolve();

  const style = () => /** @type {StyleDetail} */ (context.style);
  const piece = () => style()?.pieces.find((p) => p.name === name);

  /** @type {Hub} */
  const hub = {
    context,
    style,
    piece: () => /** @type {PieceView} */ (piece()),
    picked: () => picked,
    pick,
    touch(index) {
      if (picked === index) return;
      picked = index;
      context.paint();
    },
    busy: () => busy,
    edit: (change, said) => send(() => putSheet(style().id, change(style().sheet), style().revision), said),
    send,
  };
  const notches = notchPart(hub);
  const changes = changePart(hub);

  /** @param {() => Promise<StyleDetail>} work @param {string} said @returns {Promise<boolean>} */
  function send(work, said) {
    const sent = queue.then(async () => {
      busy = true;
      failed = null;
      context.paint();
      try {
        context.keepStyle(await work());
        context.announce(said);
      } catch (error) {
        failed = trouble(error);
        if (error instanceof ApiError && error.status === 409) {
          context.keepStyle(await getStyle(style().id));
          failed = { message: "This style was changed in another window meanwhile; what you see now is the newer one.", hint: "Make your change again if it is still wanted." };
        }
      }
      busy = false;
      changes.styleChanged();
      context.paint();
      return failed === null;
    });
    queue = sent;
    return sent;
  }

  /** @param {"undo" | "redo"} way */
  const step = (way) =>
    send(() => (way === "undo" ? undoStyle : redoStyle)(style().id), way === "undo" ? "Undone." : "Done again.");

  /** @param {number} index */
  function pick(index) {
    picked = index;
    context.paint();
    requestAnimationFrame(() => {
      const field = document.getElementById(`edge-${index}-width`) ?? document.getElementById(`edge-${index}-state`);
      field?.focus();
      if (field instanceof HTMLInputElement) field.select();
    });
  }

  return {
    title: "Piece",

    async open(route) {
      const sameStyle = context.style?.id === route.style;
      if (route.piece !== name || !sameStyle) {
        picked = 0;
        notches.stop();
        changes.leave(sameStyle);
      }
      name = route.piece ?? "";
      failed = null;
      if (route.style && !sameStyle) context.keepStyle(await getStyle(route.style));
      this.title = name;
    },

    close() {
      notches.stop();
      changes.leave(false);
    },

    key(event) {
      if (event.key === "Escape" && notches.placing) {
        notches.stop();
        context.paint();
        return;
      }
      if (!(event.ctrlKey || event.metaKey) || event.altKey) return;
      const letter = event.key.toLowerCase();
      // A blank that is being typed in keeps its own undo.
      if (event.target instanceof HTMLElement && event.target.dataset.typing) return;
      if (letter === "z" && !event.shiftKey) {
        event.preventDefault();
        step("undo");
      } else if ((letter === "z" && event.shiftKey) || letter === "y") {
        event.preventDefault();
        step("redo");
      }
    },

    view() {
      const s = style();
      const p = piece();
      if (!s) return html`<h1>No style is open</h1><p><a href="#/pieces">Back to the pieces</a></p>`;
      if (!p) {
        return html`<h1>There is no piece “${name}” in ${s.name}</h1>
          <p>It may have been renamed or undone. <a href=${routeHash({ page: "pieces", style: s.id })}>Back to the pieces</a></p>
          <p class="row"><button class="button slight" @click=${() => step("undo")}>Undo</button><button class="button slight" @click=${() => step("redo")}>Redo</button></p>`;
      }
      if (picked >= p.edges.length) picked = 0;
      const at = s.pieces.indexOf(p);
      const [before, after] = [s.pieces[at - 1], s.pieces[at + 1]];
      return html`<div class="piece-page">
        <div class="row between style-head">
          <div>
            <p class="small"><a href=${routeHash({ page: "pieces", style: s.id })}>${s.name}</a></p>
            <h1>${p.name}</h1>
          </div>
          <div class="row">
            ${before ? html`<a class="button slight" href=${routeHash({ page: "piece", style: s.id, piece: before.name })}>Before: ${before.name}</a>` : nothing}
            ${after ? html`<a class="button slight" href=${routeHash({ page: "piece", style: s.id, piece: after.name })}>Next: ${after.name}</a>` : nothing}
            <button class="button slight" ?disabled=${busy || !s.can_undo} @click=${() => step("undo")}>Undo</button>
            <button class="button slight" ?disabled=${busy || !s.can_redo} @click=${() => step("redo")}>Redo</button>
          </div>
        </div>
        ${troubleView(failed)}
        <div class="piece-split">
          <div class="piece-board">${boardView(p)}</div>
          <div class="piece-words">
            ${sentenceView(hub, p)} ${edgesView(hub, p)} ${notches.view(p)} ${context.troubles.view("edge-")} ${context.troubles.view("piece-")}
            ${changes.view(p)}
            ${findingsView(p.findings, false)}
            ${marksView(p)}
            <p><button class="plain" @click=${() => {
              if (!confirm(`Take ${p.name} out of ${s.name}? Undo brings it back.`)) return;
              hub.edit((sheet) => withoutPiece(sheet, p.name), `${p.name} is taken out.`).then((kept) => kept && context.go({ page: "pieces", style: s.id }));
            }}>Take this piece out of the style</button></p>
          </div>
        </div>
      </div>`;
    },
  };

  /** @param {PieceView} p */
  function boardView(p) {
    const box = around([pieceBox(p), ...changes.views.map(pieceBox)]);
    const k = scaleFor(box);
    const clicks = changes.takesClicks ? changes.click : notches.placing ? notches.place : undefined;
    /** @param {View} view */
    const over = (view) =>
      changes.open
        ? [changes.drawing(p, view), changes.handles(p).map((h) => handleDrawing(h, view, context.system))]
        : notches.handles(p).map((h) => handleDrawing(h, view, context.system));
    return html`${pieceDrawing(p, {
      k,
      box,
      margin: 30,
      label: `${p.name} with its net and cut line. The lists beside it do the same by keyboard.`,
      picked,
      onPick: clicks ? undefined : pick,
      onPoint: clicks,
      named: !changes.views.length,
      quiet: changes.views.length > 0,
      over,
    })}
    <p class="small soft board-note">${context.say("Solid: cut line. Dashed: net line. Long dashes: inlay. A ring where the picked edge starts, a square where it ends.")}</p>`;
  }

  /** As large as the window allows, px per mm. @param {Box} box mm */
  function scaleFor(box) {
    const wide = Math.max(200, Math.min(window.innerWidth < 1000 ? window.innerWidth - 48 : window.innerWidth * 0.5, 980));
    const tall = Math.max(380, window.innerHeight * 0.72);
    return Math.min((wide - 60) / Math.max(1, box.x1 - box.x0), (tall - 60) / Math.max(1, box.y1 - box.y0), 4);
  }

  /** @param {PieceView} p */
  function marksView(p) {
    const inner = p.marks.filter((m) => m.kind !== "inlay" && m.kind !== "drill");
    const parts = [
      p.darts.length ? `${p.darts.length} ${p.darts.length === 1 ? "dart" : "darts"} (${p.darts.map((d) => d.name).join(", ")})` : "",
      inner.length ? `${inner.length} inner ${inner.length === 1 ? "mark" : "marks"}` : "",
    ].filter(Boolean);
    return parts.length ? html`<p class="soft">${parts.join(", ")}.</p>` : nothing;
  }
}
