/**
 * Layout: the cloth with every piece where it lies, to scale, while the search goes on and after.
 */

/** @import {Context, Page, Trouble} from "./context.js" */
/** @import {ClothResult, LayDetail, LaySummary, Placement} from "./wire.js" */
import { html, nothing } from "../vendor/lit-html/lit-html.js";
import { ApiError, followLay, getLay, listLays, stopLay } from "./api.js";
import { figure, trouble, troubleView } from "./context.js";
import { curve } from "./draw/curve.js";
import { layoutDrawing } from "./draw/layout.js";
import { boardSize, fitted, makeBoard } from "./layout/board.js";
import { heldView } from "./layout/held.js";
import { files, foldText, othersView, sideView } from "./layout/words.js";
import { distances, HAND_TEXT, handLetter, isOver, mostToSave, pieceKey, repeatOf, routeHash, withCloth } from "./state.js";
import { showPercent } from "./units.js";

/** @param {Context} context @returns {Page} */
export function layoutPage(context) {
  /** @type {LayDetail | null} */
  let lay = null;
  /** @type {LaySummary[]} */
  let others = [];
  let role = "";
  let picked = "";
  /** @type {Trouble | null} */
  let failed = null;
  let lost = false;
  /** @type {(() => void) | null} */
  let unfollow = null;
  let started = 0;
  let ticking = 0;

  const board = makeBoard(() => shown(), () => context.paint());

  const shown = () => lay?.cloths.find((c) => c.cloth === role) ?? lay?.cloths[0];

  function follow() {
    unfollow?.();
    unfollow = null;
    if (!lay || isOver(lay)) return;
    started = performance.now();
    const id = lay.id;
    unfollow = followLay(id, {
      cloth: (result) => {
        if (lay?.id !== id) return;
        lay = withCloth(lay, result);
        speak(result);
        context.paint();
      },
      state: (state) => {
        if (lay?.id !== id) return;
        lay = { ...lay, state };
        lost = false;
        if (isOver(lay)) refresh(id);
        context.paint();
      },
      lost: (now) => {
        lost = now;
        context.paint();
      },
    });
    clearInterval(ticking);
    ticking = window.setInterval(() => (lay && !isOver(lay) ? context.paint() : clearInterval(ticking)), 500);
  }

  /** @param {string} id */
  async function refresh(id) {
    try {
      const now = await getLay(id);
      if (lay?.id === id) lay = now;
      if (lay && isOver(lay)) context.announce(endText(lay));
    } catch (error) {
      failed = trouble(error);
    }
    context.paint();
  }

  let spoken = 0;

  /** Say an improvement, at most one in a while. @param {ClothResult} result */
  function speak(result) {
    if (performance.now() - spoken < 3000) return;
    spoken = performance.now();
    context.announce(`${result.cloth}: ${context.clothLen(result.length_mm)}, floor ${context.clothLen(result.floor_mm)}.`);
  }

  /** @param {LayDetail} l */
  function endText(l) {
    if (l.state === "failed") return `The search failed. ${l.error?.message ?? ""}`;
    return `${l.state === "stopped" ? "Stopped" : "Done"}. ${l.cloths.map((c) => `${c.cloth}: buy ${c.buy_text}`).join(", ")}.`;
  }

  async function stop() {
    if (!lay) return;
    try {
      lay = await stopLay(lay.id);
      context.announce("Stopped; the best layout so far is kept.");
    } catch (error) {
      failed = trouble(error);
    }
    context.paint();
  }

  return {
    title: "Layout",

    async open(route) {
      failed = null;
      const id = route.lay ?? context.lastLay;
      others = await listLays();
      const known = id && others.some((l) => l.id === id) ? id : route.lay ?? others[0]?.id;
      if (!known) {
        lay = null;
        return;
      }
      if (lay?.id !== known) {
        board.all();
        picked = "";
        try {
          lay = await getLay(known);
        } catch (error) {
          lay = null;
          if (route.lay || !(error instanceof ApiError && error.status === 404)) throw error;
          return;
        }
        context.keepLay(known);
        follow();
      } else if (!isOver(lay) && !unfollow) follow();
      if (role !== (route.cloth ?? lay?.cloths[0]?.cloth)) {
        role = route.cloth ?? lay?.cloths[0]?.cloth ?? "";
        board.all();
        picked = "";
      }
    },

    close() {
      unfollow?.();
      unfollow = null;
      clearInterval(ticking);
    },

    view() {
      if (!lay) return html`<h1>No layout yet</h1><p class="sentence">Complete the sentence on the <a href=${routeHash({ page: "cloth", style: context.style?.id })}>cloth</a>, then lay it out.</p>`;
      const result = shown();
      const over = isOver(lay);
      return html`<div class="layout-page">
        <div class="row between style-head">
          <div><p class="small"><a href=${routeHash({ page: "cloth", style: lay.style_id })}>${lay.style}</a>${lay.request.copies > 1 ? `, ${lay.request.copies} garments` : ""} · ${stateText(lay)}</p>
            <h1>${headline(lay, result)}</h1></div>
          <div class="row">
            ${over ? nothing : html`<button class="button" @click=${stop}>Stop here</button>`}
            ${result ? html`<a class="button" href=${`/sheet?lay=${encodeURIComponent(lay.id)}&cloth=${encodeURIComponent(result.cloth)}`}>Lay sheet to print</a>` : nothing}
            ${result ? html`<span class="soft small">as a file: ${files(lay.id, result.cloth)}</span>` : nothing}
            <a class="button first" href=${routeHash({ page: "buy", lay: lay.id })}>What to buy</a>
          </div>
        </div>
        ${lost && !over ? html`<p class="say warning">The line to the service is broken; it is tried again by itself. The search goes on there.</p>` : nothing}
        ${lay.error ? troubleView({ message: lay.error.message, hint: lay.error.hint ?? "" }) : nothing} ${troubleView(failed)}
        ${lay.cloths.length > 1
          ? html`<nav class="tabs" aria-label="Cloths of this lay">${lay.cloths.map(
              (c) => html`<a href=${routeHash({ page: "layout", lay: lay?.id, cloth: c.cloth })} aria-current=${c === result ? "true" : nothing}>${c.cloth} <span class="soft">${context.clothLen(c.length_mm)}</span></a>`,
            )}</nav>`
          : nothing}
        ${result ? boardView(result) : html`<p class="sentence soft">The first layout comes within a second or so.</p>`}
        ${result ? heldView(context, lay, result) : nothing}
        ${result ? sideView(context, result, { picked, pick }) : nothing}
        ${othersView(others, lay.id)}
      </div>`;
    },

    key(event) {
      const target = /** @type {HTMLElement} */ (event.target);
      if (!target.closest?.(".lay-board")) return;
      if (event.ctrlKey || event.metaKey || event.altKey) return;
      const result = shown();
      if (!result) return;
      switch (event.key) {
        case "+": case "=": board.zoom(1.4); break;
        case "-": board.zoom(1 / 1.4); break;
        case "0": board.all(); break;
        case "Escape": picked = ""; break;
        case "Enter": case " ": pick(target.closest("[data-key]")?.getAttribute("data-key") ?? ""); break;
        case "ArrowRight": case "ArrowDown": case "ArrowLeft": case "ArrowUp":
          if (event.shiftKey && board.chosen) board.pan(event.key);
          else walk(result, event.key === "ArrowRight" || event.key === "ArrowDown" ? 1 : -1);
          break;
        default: return;
      }
      event.preventDefault();
      context.paint();
    },
  };

  /** @param {LayDetail} l @param {ClothResult | undefined} result */
  function headline(l, result) {
    if (l.state === "failed") return "The search failed";
    if (!result) return "Laying it out";
    const fold = foldText(result.fold);
    return `Laid out ${fold}`;
  }

  /** @param {LayDetail} l */
  function stateText(l) {
    switch (l.state) {
      case "queued": return "waiting for its turn";
      case "searching": return `searching${l.request.seconds ? `, ${l.request.seconds} seconds in all` : ""}`;
      case "stopped": return "stopped; the best so far is kept";
      case "failed": return "failed";
      default: return "search ended";
    }
  }

  // --- the drawing ------------------------------------------------------------------------------

  /** @param {ClothResult} result */
  function boardView(result) {
    const { width, height, view: all } = fitted(result);
    const view = board.chosen ?? all;
    return html`<div class="lay-top">
      <div class="lay-main">
        <div class=${board.chosen ? "lay-board near" : "lay-board"} @pointerdown=${board.dragStart} @wheel=${board.wheel}>
          <svg width=${width} height=${height} viewBox=${`0 0 ${width} ${height}`} role="group" aria-label=${`Layout of the ${result.cloth} cloth, ${result.placements.length} pieces. Arrow keys go from piece to piece, plus and minus zoom.`}>
            ${layoutDrawing(result, { view, width, height, system: context.system, picked, onPick: pick, describe, repeat: repeatOf(lay, result.cloth), say: context.say })}
          </svg>
        </div>
        <div class="row between lay-tools">
          <p class="small soft">${legend(result)}</p>
          <div class="row">
            <button class="button slight" @click=${() => { board.zoom(1.4); context.paint(); }} aria-label="Closer">+</button>
            <button class="button slight" @click=${() => { board.zoom(1 / 1.4); context.paint(); }} aria-label="Further away">&minus;</button>
            <button class="button slight" ?disabled=${!board.chosen} @click=${() => { board.all(); context.paint(); }}>All of it</button>
          </div>
        </div>
      </div>
      ${figuresView(result, width)}
    </div>`;
  }

  /** @param {ClothResult} result @param {number} boardWidth px */
  function figuresView(result, boardWidth) {
    const save = mostToSave(result);
    const room = boardSize().width;
    const side = room - boardWidth - 60;
    const width = Math.round(Math.min(620, Math.max(300, side > 340 ? side : room)));
    const seconds = lay && isOver(lay) ? (lay.request.seconds ?? 0) : (performance.now() - started) / 1000;
    return html`<div class="lay-side">
      <dl class="figures">
        ${figure("Length used", context.clothLen(result.length_mm), true)}
        ${figure("Proved floor", context.clothLen(result.floor_mm))}
        ${figure("Still to save", save < 0.0005 ? "nothing: this is the floor" : `at most ${showPercent(save)}`)}
        ${figure("Cloth under pieces", showPercent(result.utilisation))}
      </dl>
      ${result.fits === null ? nothing : html`<p class=${result.fits ? "say" : "say refused"}>${result.fits_text}</p>`}
      ${result.not_laid.length ? html`<p class="say refused">Not laid: ${result.not_laid.map((a) => `${a.piece} (${a.drawn + a.turned})`).join(", ")}.</p>` : nothing}
      ${curve(result, { width, height: 230, system: context.system, until: seconds, say: context.say })}
    </div>`;
  }

  /** @param {ClothResult} result */
  function legend(result) {
    const letters = [...new Set(result.placements.map(handLetter))];
    return letters.map((l, i) => html`${i ? "; " : ""}<b>${l}</b> ${HAND_TEXT[l]}`);
  }

  /** @param {string} key */
  function pick(key) {
    picked = picked === key ? "" : key;
    context.paint();
  }

  /** @param {ClothResult} result @param {number} by */
  function walk(result, by) {
    const keys = result.placements.map(pieceKey);
    if (!keys.length) return;
    const at = keys.indexOf(picked);
    picked = keys[(at + by + keys.length) % keys.length];
    context.paint();
    requestAnimationFrame(() =>
      /** @type {HTMLElement | null} */ (document.querySelector(`.lay-board [data-key="${CSS.escape(picked)}"]`))?.focus(),
    );
  }

  /** @param {Placement} p */
  function describe(p) {
    const result = shown();
    if (!result) return p.piece;
    const d = distances(p, result);
    return context.say(
      `${p.piece}${p.copy > 1 ? `, number ${p.copy}` : ""}, ${HAND_TEXT[handLetter(p)]}; ${context.len(d.end)} from the squared end, ` +
        (p.on_fold ? "on the fold" : d.fold !== null ? `${context.len(d.fold)} from the fold` : `${context.len(d.selvedge)} from the selvedge`),
    );
  }
}
