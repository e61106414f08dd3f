/**
 * How far the cutting of a layout is, as the table and the phone move it on: nothing is pressed here.
 */

/** @import {LayDetail} from "./wire.js" */
/** @import {Cutting} from "./table/session.js" */
import { html, nothing } from "../vendor/lit-html/lit-html.js";
import { listen } from "./news.js";
import { getCutting } from "./table/session.js";

/** @type {Readonly<Record<string, string>>} */
const VIEWS = Object.freeze({
  guides: "laying the cloth along its grain lines",
  look: "looking the layout through",
  whole: "cutting, all of a window lit",
  piece: "cutting, one piece at a time",
});

/** @param {() => void} paint */
export function cuttingPart(paint) {
  /** Every cloth's cutting, as last heard. @type {Map<string, Cutting>} */
  const known = new Map();
  /** The lay that is followed. @type {LayDetail | null} */
  let followed = null;
  let stop = () => {};
  /** The stream is broken off: it is tried again. */
  let lost = false;

  function leave() {
    stop();
    stop = () => {};
    followed = null;
    lost = false;
    known.clear();
  }

  /** @param {string} cloth @param {Cutting} now */
  function take(cloth, now) {
    if (now.number >= (known.get(cloth)?.number ?? 0)) known.set(cloth, now);
  }

  /** How every cloth's cutting stands now; those without a layout are left out. @param {LayDetail} lay */
  async function ask(lay) {
    const asked = lay.cloths.map(({ cloth }) => getCutting(lay.id, cloth).then((now) => followed === lay && take(cloth, now)));
    await Promise.allSettled(asked);
  }

  return {
    leave,

    /** Follow the cutting of every cloth of a lay, and nothing else. @param {LayDetail | null} lay */
    async follow(lay) {
      leave();
      if (!lay) return;
      followed = lay;
      await ask(lay);
      if (followed !== lay) return;
      stop = listen((told) => {
        if (told.kind === "cutting" && (told.lay_id !== lay.id || !known.has(told.cloth))) return;
        lost = told.kind === "lost";
        if (told.kind === "cutting") take(told.cloth, told.cutting);
        paint();
        if (told.kind === "ready") void ask(lay).then(paint);
      });
    },

    view() {
      if (!known.size) return nothing;
      const inOrder = (followed?.cloths ?? []).flatMap(({ cloth }) => {
        const now = known.get(cloth);
        return now ? [/** @type {const} */ ([cloth, now])] : [];
      });
      return html`${inOrder.map(([cloth, now]) => oneView(cloth, now))}`;
    },
  };

  /** @param {string} cloth @param {Cutting} now */
  function oneView(cloth, now) {
    const asked = now.lines.reduce((sum, l) => sum + l.asked, 0);
    const cut = now.lines.reduce((sum, l) => sum + l.cut, 0);
    const spoiled = now.lines.reduce((sum, l) => sum + l.spoiled, 0);
    const begun = now.number > 0;
    return html`<section class="cutting-now" data-cloth=${cloth} aria-label=${`Cutting of ${cloth}`}>
      <h3>${cloth}</h3>
      <p role="status">${!begun
        ? "Not begun."
        : html`<b>${cut} of ${asked}</b> cut${spoiled ? `, ${spoiled} spoiled` : ""}. ${now.done
            ? "Called done."
            : html`At the table: ${VIEWS[now.walk.view]}, window ${now.walk.window + 1}.`}`}${lost ? " The service is away; this is how it stood." : ""}</p>
      ${begun
        ? html`<progress class="cut-bar" max=${asked} value=${cut} aria-label=${`Cut of ${cloth}`}></progress>
            ${now.gaps_text && !now.done ? html`<p class="soft small">${now.gaps_text}</p>` : nothing}
            <details><summary>Piece by piece</summary><div class="scroll-x"><table class="ledger">
              <thead><tr><th scope="col">Piece</th><th scope="col">Hand</th><th scope="col" class="num">Asked</th><th scope="col" class="num">Laid</th><th scope="col" class="num">Cut</th><th scope="col" class="num">Spoiled</th></tr></thead>
              <tbody>${now.lines.map((l) => html`<tr><th scope="row">${l.piece}</th><td>${l.hand === "drawn" ? "as drawn" : "turned over"}</td><td class="num">${l.asked}</td><td class="num">${l.laid}</td><td class="num">${l.cut}</td><td class="num">${l.spoiled}</td></tr>`)}</tbody>
            </table></div></details>`
        : nothing}
    </section>`;
  }
}
