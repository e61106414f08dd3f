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

/** @typedef {{role: string, width_mm: number, nap: boolean, text: string, buy_mm: number}} CardSquare buy_mm is Infinity where nothing can be bought */

/** @param {Context} context @returns {Page} */
export function buyPage(context) {
  /** @type {LayDetail | null} */
  let lay = null;
  /** @type {Trouble | null} */
  let failed = null;
  /** @type {CardSquare[]} */
  let card = [];
  let working = false;
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

  /** Work out the card width by width, each by a short search of its own. @param {LayDetail} of */
  async function makeCard(of) {
    const mine = ++wanted;
    const roles = of.cloths.map((c) => c.cloth);
    card = [];
    failed = null;
    working = true;
    context.paint();
    try {
      for (const nap of [false, true]) {
        for (const { mm } of SHOP_WIDTHS) {
          const found = await squares(of, roles, mm, nap);
          if (mine !== wanted) return;
          card = [...card, ...found];
          context.paint();
        }
      }
      context.announce("The card for the shop is ready.");
    } catch (error) {
      failed = trouble(error);
    }
    working = false;
    context.paint();
  }

  /** @param {LayDetail} of @param {string[]} roles @param {number} width_mm @param {boolean} nap @returns {Promise<CardSquare[]>} */
  async function squares(of, roles, width_mm, nap) {
    /** @param {string} role @param {string} text @param {number} [buy_mm] @returns {CardSquare} */
    const square = (role, text, buy_mm = Infinity) => ({ role, width_mm, nap, text, buy_mm });
    try {
      const done = await searched(cardRequest(of.request, roles, width_mm, nap, CARD_SECONDS));
      return roles.map((role) => {
        const result = done.cloths.find((c) => c.cloth === role);
        return result ? square(role, result.buy_text, result.buy_mm) : square(role, "does not go");
      });
    } catch (error) {
      if (!(error instanceof ApiError && error.status === 422)) throw error;
      // Some piece is too wide for one of the cloths: each cloth is asked on its own which it was.
      if (roles.length === 1) return [square(roles[0], "too narrow")];
      const each = [];
      for (const role of roles) each.push(...(await squares(of, [role], width_mm, nap)));
      return each;
    }
  }

  /** @param {import("./wire.js").LayRequest} request @returns {Promise<LayDetail>} */
  async function searched(request) {
    let now = await startLay(request);
    while (!isOver(now)) {
      await new Promise((done) => setTimeout(done, 350));
      now = await getLay(now.id);
    }
    await deleteLay(now.id);
    if (now.error) throw new ApiError(now.error, 422);
    return now;
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
      working = false;
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
        ${offerView(l)}
        ${sums.length ? html`<p class="sum">Together ${sums.map((s) => `${s.currency} ${s.sum.toFixed(2)}`).join(" and ")}</p>` : nothing}
      </div>`;
    },
  };

  /** @param {LayDetail} l @param {ClothResult} c */
  function clothView(l, c) {
    const own = c.fits !== null;
    const terms = own ? c.terms.filter((t) => t.code !== "step") : c.terms;
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
        <p class="measure soft">${own
          ? nothing
          : saved > 0.5
            ? html`No layout can do with less than ${context.clothLen(c.floor_buy_mm)} to buy; a longer search could save ${context.clothLen(saved)} at the very most.`
            : "Not even a perfect layout would let you buy less."}
          <a href=${routeHash({ page: "layout", lay: l.id, cloth: c.cloth })}>See the layout behind this</a>.</p>
      </div>
      <table class="terms">
        <caption class="unseen">How the length of ${c.cloth} to buy comes about</caption>
        <thead><tr><th scope="col">What goes into it</th><th scope="col" class="num">adds</th><th scope="col" class="num">so far</th></tr></thead>
        <tbody>${terms.map(
          (t) => html`<tr><th scope="row">${capital(context.say(t.label))}</th><td class="num">${fractions(context.len(t.mm))}</td><td class="num">${fractions(context.len(t.total_mm))}</td></tr>`,
        )}</tbody>
        <tfoot><tr><th scope="row">${own ? "Needed of what is there" : "To buy"}</th><td></td><td class="num">${fractions(own ? context.clothLen(c.need_mm) : c.buy_text)}</td></tr></tfoot>
      </table>
      ${cardView(l, c)}
    </section>`;
  }

  /** @param {LayDetail} l @param {ClothResult} c */
  function cardView(l, c) {
    if (!card.length && !working) return nothing;
    /** What lies one way also serves cloth that may lie either way: the shorter answer counts. @param {number} mm @param {boolean} nap */
    const square = (mm, nap) => {
      const here = card.filter((s) => s.role === c.cloth && s.width_mm === mm);
      const own = here.find((s) => s.nap === nap);
      if (!own) return working ? "…" : "";
      return here.reduce((best, s) => (!nap && s.buy_mm < best.buy_mm ? s : best), own).text;
    };
    return html`<div class="scroll-x card-room" tabindex="0" role="region" aria-label=${`Shop card, ${c.cloth}`}><table class="card">
      <caption>${l.style}, ${c.cloth}: length by width${l.request.copies > 1 ? `, ${l.request.copies} garments` : ""}</caption>
      <thead><tr><th scope="col">Width</th>${SHOP_WIDTHS.map((w) => html`<th scope="col" class="num">${context.system === "imperial" ? w.imperial : w.metric}</th>`)}</tr></thead>
      <tbody>
        <tr><th scope="row">either way up</th>${SHOP_WIDTHS.map((w) => html`<td class="num">${fractions(square(w.mm, false))}</td>`)}</tr>
        <tr><th scope="row">one way up</th>${SHOP_WIDTHS.map((w) => html`<td class="num">${fractions(square(w.mm, true))}</td>`)}</tr>
      </tbody>
    </table></div>`;
  }

  /** @param {LayDetail} l */
  function offerView(l) {
    return html`<p class="card-offer row"><button class="button" ?disabled=${working || !isOver(l)} @click=${() => makeCard(l)}>${working ? "Working out the card …" : "Work out a card for the shop"}</button>
      <span class="soft">The length of each cloth at the common widths, either way and one way up: ${SHOP_WIDTHS.length * 2} searches of ${CARD_SECONDS} seconds.</span></p>`;
  }

  /** @param {string} text */
  function capital(text) {
    return text.charAt(0).toUpperCase() + text.slice(1);
  }
}
