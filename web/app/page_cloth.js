/**
 * Cloth: a sentence for each cloth of the style, and the cloth drawn as the sentence says it.
 */

/** @import {Context, Page, Trouble} from "./context.js" */
/** @import {ClothChoice} from "./state.js" */
/** @import {How} from "./prefs.js" */
/** @import {StyleDetail} from "./wire.js" */
import { html, nothing } from "../vendor/lit-html/lit-html.js";
import { getStyle, startLay } from "./api.js";
import { choiceBlank, countBlank, lengthBlank, optionalLengthBlank, percentBlank, priceBlank, textBlank } from "./blanks.js";
import { trouble, troubleView } from "./context.js";
import { lacksForm } from "./cloth/lacks_form.js";
import { clothDrawing } from "./draw/cloth.js";
import { readCloths, writeCloths } from "./prefs.js";
import { FOLDS, layRequest, routeHash, shopSteps } from "./state.js";
import { MM_PER, showFraction } from "./units.js";

/** @param {Context} context @returns {Page} */
export function clothPage(context) {
  /** @type {Record<string, ClothChoice>} */
  let cloths = {};
  /** @type {How} */
  let how = { copies: 1, seconds: 10, gap_mm: 0 };
  /** @type {Trouble | null} */
  let failed = null;
  let busy = false;

  const style = () => /** @type {StyleDetail} */ (context.style);

  /** @param {string} role @param {Partial<ClothChoice>} change */
  function set(role, change) {
    cloths = { ...cloths, [role]: { ...cloths[role], ...change } };
    keep();
  }

  /** @param {Partial<How>} change */
  function setHow(change) {
    how = { ...how, ...change };
    keep();
  }

  function keep() {
    writeCloths(style().id, { cloths, how });
    context.paint();
  }

  /** @param {Event} event */
  async function lay(event) {
    event.preventDefault();
    if (context.troubles.any) {
      context.announce("A blank cannot be read yet; see the message beside it.");
      return;
    }
    busy = true;
    failed = null;
    context.paint();
    try {
      const started = await startLay(layRequest(style().id, cloths, how, context.system));
      context.keepLay(started.id);
      context.go({ page: "layout", lay: started.id });
    } catch (error) {
      failed = trouble(error);
    }
    busy = false;
    context.paint();
  }

  return {
    title: "Cloth",

    async open(route) {
      failed = null;
      await context.refreshStyles();
      const id = route.style ?? context.style?.id ?? context.styles[0]?.id;
      if (!id) return;
      if (context.style?.id !== id) context.keepStyle(await getStyle(id));
      const roles = [...new Set(style().pieces.map((p) => p.cloth))];
      ({ cloths, how } = readCloths(id, roles, context.system));
    },

    view() {
      const s = style();
      if (!s) return html`<h1>Cloth</h1><p class="sentence">There are no pieces yet to lay on cloth. <a href="#/pieces">Bring some in first.</a></p>`;
      const refused = s.pieces.filter((p) => !p.cut_line).map((p) => p.name);
      return html`<form class="cloth-page" @submit=${lay}>
        <div class="row between style-head"><div><p class="small"><a href=${routeHash({ page: "pieces", style: s.id })}>${s.name}</a></p><h1>What it is cut from</h1></div></div>
        ${Object.entries(cloths).map(([role, cloth]) => clothView(role, cloth, s))}
        <section class="cloth-how">
          <p class="sentence">
            Lay out
            ${countBlank({ id: "how-copies", label: "How many garments", value: how.copies, least: 1, most: 50, troubles: context.troubles, onChange: (v) => setHow({ copies: v }) })}
            ${how.copies === 1 ? "garment" : "garments"} at once, keep
            ${lengthBlank({ id: "how-gap", label: "Gap between pieces", mm: how.gap_mm, system: context.system, troubles: context.troubles, none: "no room", onChange: (v) => setHow({ gap_mm: v }) })}
            between the pieces, and search for
            ${countBlank({ id: "how-seconds", label: "Seconds to search", value: how.seconds, least: 1, most: 3600, troubles: context.troubles, onChange: (v) => setHow({ seconds: v }) })}
            ${how.seconds === 1 ? "second" : "seconds"}.
          </p>
          ${context.troubles.view("how-")} ${troubleView(failed)}
          ${refused.length ? html`<p class="say refused">${refused.join(", ")} cannot be cut as drawn, so this style cannot be laid yet. <a href=${routeHash({ page: "piece", style: s.id, piece: refused[0] })}>Mend ${refused[0]}</a></p>` : nothing}
          <p><button class="button first" ?disabled=${busy || refused.length > 0}>${busy ? "Starting …" : "Lay it out"}</button></p>
        </section>
      </form>`;
    },
  };

  /** @param {string} role @param {ClothChoice} cloth @param {StyleDetail} s */
  function clothView(role, cloth, s) {
    const { system, troubles, say } = context;
    /** @param {string} name */
    const id = (name) => `cloth-${role}-${name}`;
    const own = cloth.available_mm !== null;
    const names = s.pieces.filter((p) => p.cloth === role).map((p) => p.name);
    const perUnit = system === "imperial" ? "yard" : say("metre");
    const perUnitMm = system === "imperial" ? MM_PER.yd : 1000;
    return html`<section class="cloth-part" aria-label=${`Cloth: ${role}`}>
      <div>
        <p class="sentence">
          The <b>${role}</b> cloth is
          ${lengthBlank({ id: id("width"), label: `Width of the ${role} cloth by its label`, mm: cloth.width_mm, system, troubles, least: 10, onChange: (v) => set(role, { width_mm: v }) })}
          wide,
          ${choiceBlank({ id: id("fold"), label: `How the ${role} cloth is laid`, value: cloth.fold, options: FOLDS.map(([v, t]) => [v, say(t)]), onChange: (v) => set(role, { fold: v }) })},
          ${choiceBlank({ id: id("nap"), label: `Direction of the ${role} cloth`, value: cloth.nap ? "one" : "both", options: [["both", "the same either way up"], ["one", "one way up (nap or print)"]], onChange: (v) => set(role, { nap: v === "one" }) })},
          and may shrink
          ${percentBlank({ id: id("along"), label: `Shrinkage of the ${role} cloth along the selvedge`, share: cloth.shrink_along, troubles, onChange: (v) => set(role, { shrink_along: v }) })}
          along and
          ${percentBlank({ id: id("across"), label: `Shrinkage of the ${role} cloth across`, share: cloth.shrink_across, troubles, onChange: (v) => set(role, { shrink_across: v }) })}
          across. I
          ${choiceBlank({
            id: id("own"),
            label: `Whether the ${role} cloth is already there`,
            value: own ? "have" : "buy",
            options: [["buy", "shall buy what it takes"], ["have", "have a piece of it"]],
            onChange: (v) => set(role, { available_mm: v === "have" ? 1500 : null }),
          })}${own
            ? html`,
                ${lengthBlank({ id: id("available"), label: `Length of the ${role} cloth that is there`, mm: cloth.available_mm, system, troubles, least: 10, onChange: (v) => set(role, { available_mm: v }) })}
                long`
            : nothing}.
        </p>
        <p class="sentence quiet">
          By the tape it measures
          ${optionalLengthBlank({ id: id("measured"), label: `Measured width of the ${role} cloth`, mm: cloth.measured_width_mm, system, troubles, none: "as the label says", onChange: (v) => set(role, { measured_width_mm: v }) })};
          each ${say("selvedge")} takes
          ${lengthBlank({ id: id("selvedge"), label: say(`Selvedge of the ${role} cloth`), mm: cloth.selvedge_mm, system, troubles, none: "nothing", onChange: (v) => set(role, { selvedge_mm: v }) })}
          and squaring each end
          ${lengthBlank({ id: id("ends"), label: `Allowance for squaring each end of the ${role} cloth`, mm: cloth.end_allowance_mm, system, troubles, none: "nothing", onChange: (v) => set(role, { end_allowance_mm: v }) })}.
          The pattern repeats
          ${lengthBlank({ id: id("repeat-along"), label: `Repeat of the ${role} cloth along`, mm: cloth.repeat_along_mm, system, troubles, none: "nowhere", onChange: (v) => set(role, { repeat_along_mm: v }) })}
          along,
          ${lengthBlank({ id: id("repeat-across"), label: `Repeat of the ${role} cloth across`, mm: cloth.repeat_across_mm, system, troubles, none: "nowhere", onChange: (v) => set(role, { repeat_across_mm: v }) })}
          across${cloth.repeat_along_mm > 0 || cloth.repeat_across_mm > 0
            ? html`, and reads
                ${choiceBlank({ id: id("even"), label: `Whether the repeat of the ${role} cloth is even`, value: cloth.repeat_even ? "even" : "uneven", options: [["uneven", "one way only"], ["even", "the same both ways"]], onChange: (v) => set(role, { repeat_even: v === "even" }) })}`
            : nothing}.
          ${own
            ? nothing
            : html`The shop cuts by
                ${choiceBlank({ id: id("step"), label: `Step that the shop cuts ${role} cloth by`, value: String(cloth.step_mm), options: stepOptions(cloth.step_mm), onChange: (v) => set(role, { step_mm: Number(v) }) })}
                and asks
                ${textBlank({ id: id("currency"), label: `Currency for the ${role} cloth`, text: cloth.currency, troubles, needed: true, onChange: (v) => set(role, { currency: v }) })}
                ${priceBlank({
                  id: id("price"),
                  label: `Price of the ${role} cloth`,
                  value: cloth.price_per_m === null ? null : (cloth.price_per_m * perUnitMm) / 1000,
                  troubles,
                  onChange: (v) => set(role, { price_per_m: v === null ? null : (v * 1000) / perUnitMm }),
                })}
                a ${perUnit}.`}
        </p>
        ${lacksForm(context, role, cloth, (change) => set(role, change))}
        ${troubles.view(`cloth-${role}-`)}
        <p class="soft small">For ${names.join(", ")}.</p>
      </div>
      <div class="cloth-picture">${clothDrawing(cloth, { width: pictureWidth(), height: 330, system, say })}</div>
    </section>`;
  }

  /** @param {number} now @returns {[string, string][]} */
  function stepOptions(now) {
    /** @param {number} mm */
    const text = (mm) => (context.system === "imperial" ? `${showFraction(mm / MM_PER.yd, 8)} of a yard` : `${Number((mm / 10).toFixed(1))} cm`);
    const steps = shopSteps(context.system);
    if (!steps.includes(now)) steps.unshift(now);
    return steps.map((mm) => [String(mm), text(mm)]);
  }

  function pictureWidth() {
    return Math.max(280, Math.min(520, window.innerWidth - (window.innerWidth > 1100 ? 900 : 60)));
  }
}
