/**
 * The list of styles, each with what of it wants to be looked at, in words that come after the list:
 * counting means to cut every piece.
 */

/** @import {Context} from "../context.js" */
/** @import {StyleLook, StyleSummary} from "../wire.js" */
import { html, nothing } from "../../vendor/lit-html/lit-html.js";
import { getLook } from "../api.js";
import { routeHash } from "../state.js";
import { lookWords } from "./look_words.js";

/** @param {Context} context */
export function styleList(context) {
  /** By style and revision. @type {Map<string, StyleLook | null>} */
  const looks = new Map();
  let counting = false;

  /** @param {StyleSummary} s */
  const keyOf = (s) => `${s.id} ${s.revision}`;

  /** One style after the other, so that the service has hands free for the page. */
  async function count() {
    if (counting) return;
    counting = true;
    for (let next = wanting(); next; next = wanting()) {
      const key = keyOf(next);
      /** @type {StyleLook | null} */
      let found = null;
      try {
        found = await getLook(next.id);
      } catch {
        // Unsaid is better than a message about a count.
      }
      looks.set(key, found);
      context.paint();
    }
    counting = false;
  }

  const wanting = () => context.styles.find((s) => !looks.has(keyOf(s)));

  return {
    view() {
      void count();
      return html`<ul>
        ${context.styles.map(
          (s) => html`<li>
            <a href=${routeHash({ page: "pieces", style: s.id })} aria-current=${s.id === context.style?.id ? "true" : nothing}>${s.name}</a>
            <span class="soft small">${s.pieces} ${s.pieces === 1 ? "piece" : "pieces"} · ${s.cloths.join(", ")}</span>
            ${lookView(looks.get(keyOf(s)))}
          </li>`,
        )}
      </ul>`;
    },
  };
}

/** @param {StyleLook | null | undefined} look */
function lookView(look) {
  if (!look) return nothing;
  const words = lookWords(look);
  return html`<span class=${`small look ${words.bad ? "some bad" : words.some ? "some" : "soft"}`} data-look>${words.text}</span>`;
}
