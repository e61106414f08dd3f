/**
 * Buy: the length of each cloth with every term of it, the shopping list, and a card for the shop.
 */

/** @import {Context, Page, Trouble} from "./context.js" */
/** @import {ClothResult, LayDetail} from "./wire.js" */
import { html, nothing } from "../vendor/lit-html/lit-html.js";
import { ApiError, deleteLay, getLay, listLays, startLay } from "./api.js";
import { figure, fractions, trouble, troubleView } from "./context.js";
import { cardRequest, isOver, routeHash, SHOP_WIDTHS, totals } from "./state.js";

/** Seconds that each square of the shop card is searched. */
const CARD_SECONDS = 2;

/** @typedef {{role: string, width_mm: number, nap: boolean, text: string}} CardSquare */

/** @param {Context} context @returns {Page} */
export function buyPage(context) {
  /** @type {LayDetail | null} */
  let lay = null;
  /** @type {Trouble | null} */
  let failed = null;
  /** @type {CardSquare[]} */
  let card = [];
  let working = "";
  let wanted = 0;
  let here = false;
  let waiting = 0;

  /** @param {string} id */
  async function load(id) {
    const now = await getLay(id);
    if (lay?.id !== id) card = [];
    lay = now;
    clearTimeout(waiting);
    if (!isOver(now)) waiting = window.setTimeout(() => here && load(id).then(context.paint, () => {}), 1000);
  }

  /** Work out the card one square after the other, each by a short search of its own. @param {LayDetail} of @param {string} role */
  async function makeCard(of, role) {
    const mine = ++wanted;
    card = card.filter((s) => s.role !== role);
    failed = null;
    try {
      for (const nap of [false, true]) {
        for (const { mm } of SHOP_WIDTHS) {
          working = role;
          context.paint();
          const text = await squareText(cardRequest(of.request, role, mm, nap, CARD_SECONDS), role);
          if (mine !== wanted) return;
          card = [...card, { role, width_mm: mm, nap, text }];
          context.paint();
        }
      }
      context.announce(`The shop card for ${role} is ready.`);
    } catch (error) {
      failed = trouble(error);
    }
    working = "";
    context.paint();
  }

  /** @param {import("./wire.js").LayRequest} request @param {string} role @returns {Promise<string>} */
  async function squareText(request, role) {
    try {
      let now = await startLay(request);
      while (!isOver(now)) {
        await new Promise((done) => setTimeout(done, 350));
        now = await getLay(now.id);
      }
      await deleteLay(now.id);
      const result = now.cloths.find((c) => c.cloth === role);
      return now.state === "failed" || !result ? "does not go" : result.buy_text;
    } catch (error) {
      if (error instanceof ApiError && error.status === 422) return "too narrow";
      throw error;
    }
  }

  return {
    title: "Buy",

    async open(route) {
      here = true;
      failed = null;
      const id = route.lay ?? context.lastLay ?? (await listLays())[0]?.id;
      if (!id) {
        lay = null;
        return;
      }
      try {
        await load(id);
      } catch (error) {
        lay = null;
        if (route.lay || !(error instanceof ApiError && error.status === 404)) throw error;
      }
    },

    close() {
      here = false;
      wanted++;
      working = "";
      clearTimeout(waiting);
    },

    view() {
      if (!lay) return html`<h1>Nothing to buy yet</h1><p class="sentence">The length comes from a layout, never from an area alone. <a href=${routeHash({ page: "cloth", style: context.style?.id })}>Say what cloth it is</a>, then lay it out.</p>`;
      const l = lay;
      const sums = totals(l.cloths);
      return html`<div class="buy-page">
        <div class="row between style-head">
          <div><p class="small"><a href=${routeHash({ page: "layout", lay: l.id })}>${l.style}</a>${l.request.copies > 1 ? `, ${l.request.copies} garments` : ""}</p>
            <h1>${l.cloths.length > 1 ? "Shopping list" : "What to buy"}</h1></div>
          <div class="row"><button class="button" @click=${() => window.print()}>Print</button></div>
        </div>
        ${troubleView(failed)} ${l.error ? troubleView({ message: l.error.message, hint: l.error.hint ?? "" }) : nothing}
        ${isOver(l) ? nothing : html`<p class="say">The search still runs; these figures can only get shorter.</p>`}
        ${l.cloths.map((c) => clothView(l, c))}
        ${sums.length ? html`<p class="sum">Together ${sums.map((s) => `${s.currency} ${s.sum.toFixed(2)}`).join(" and ")}</p>` : nothing}
      </div>`;
    },
  };

  /** @param {LayDetail} l @param {ClothResult} c */
  function clothView(l, c) {
    const own = c.fits !== null;
    const saved = c.buy_mm - c.floor_buy_mm;
    return html`<section class="buy-part">
      <div>
        <h2>${c.cloth}</h2>
        <dl class="figures">
          ${own
            ? c.fits
              ? figure("It fits, and leaves", context.clothLen(c.slack_mm ?? 0), true)
              : figure("It does not fit; short of", context.clothLen(c.shortage_mm ?? 0), true)
            : figure("Buy", c.buy_text, true)}
          ${c.price !== null ? figure("Price", `${c.currency} ${c.price.toFixed(2)}`) : nothing}
        </dl>
        ${own ? html`<p class=${c.fits ? "say" : "say refused"}>${c.fits_text}${c.blocking_piece ? ` ${c.blocking_piece} is in the way.` : ""}</p>` : nothing}
        <p class="measure soft">${saved > 0.5
          ? html`No layout can do with less than ${context.clothLen(c.floor_buy_mm)} to buy; a longer search could save ${context.clothLen(saved)} at the very most.`
          : "Not even a perfect layout would let you buy less."}
          <a href=${routeHash({ page: "layout", lay: l.id, cloth: c.cloth })}>See the layout behind this</a>.</p>
      </div>
      <table class="terms">
        <caption class="unseen">How the length of ${c.cloth} to buy comes about</caption>
        <thead><tr><th scope="col">What goes into it</th><th scope="col" class="num">adds</th><th scope="col" class="num">so far</th></tr></thead>
        <tbody>${c.terms.map(
          (t) => html`<tr><th scope="row">${capital(context.say(t.label))}</th><td class="num">${fractions(context.len(t.mm))}</td><td class="num">${fractions(context.len(t.total_mm))}</td></tr>`,
        )}</tbody>
        <tfoot><tr><th scope="row">To buy</th><td></td><td class="num">${fractions(c.buy_text)}</td></tr></tfoot>
      </table>
      ${cardView(l, c)}
    </section>`;
  }

  /** @param {LayDetail} l @param {ClothResult} c */
  function cardView(l, c) {
    const squares = card.filter((s) => s.role === c.cloth);
    const busy = working === c.cloth;
    if (!squares.length && !busy) {
      return html`<p class="card-offer"><button class="button slight" ?disabled=${working !== "" || !isOver(l)} @click=${() => makeCard(l, c.cloth)}>Work out a card for the shop</button>
        <span class="soft small">The length of ${c.cloth} at each common width, about ${CARD_SECONDS * SHOP_WIDTHS.length * 2} seconds.</span></p>`;
    }
    /** @param {number} mm @param {boolean} nap */
    const square = (mm, nap) => squares.find((s) => s.width_mm === mm && s.nap === nap)?.text ?? (busy ? "…" : "");
    return html`<table class="card">
      <caption>${l.style}, ${c.cloth}: length by width${l.request.copies > 1 ? `, ${l.request.copies} garments` : ""}</caption>
      <thead><tr><th scope="col">Width</th>${SHOP_WIDTHS.map((w) => html`<th scope="col" class="num">${context.system === "imperial" ? w.imperial : w.metric}</th>`)}</tr></thead>
      <tbody>
        <tr><th scope="row">either way up</th>${SHOP_WIDTHS.map((w) => html`<td class="num">${fractions(square(w.mm, false))}</td>`)}</tr>
        <tr><th scope="row">one way up</th>${SHOP_WIDTHS.map((w) => html`<td class="num">${fractions(square(w.mm, true))}</td>`)}</tr>
      </tbody>
    </table>`;
  }

  /** @param {string} text */
  function capital(text) {
    return text.charAt(0).toUpperCase() + text.slice(1);
  }
}
