/**
 * Sentences about what the cloth lacks: a slanted end, parts cut out, flaws; each as a tape finds it.
 */

/** @import {Context} from "../context.js" */
/** @import {ClothChoice, SpotChoice} from "../state.js" */
import { html, nothing } from "../../vendor/lit-html/lit-html.js";
import { lengthBlank, optionalLengthBlank } from "../blanks.js";
import { newFlaw, newMissing } from "../lacks.js";

/** As many as the service takes. */
const MOST = 60;

/** @typedef {"flaws" | "missing"} List */

/**
 * @param {Context} context
 * @param {string} role
 * @param {ClothChoice} cloth
 * @param {(change: Partial<ClothChoice>) => void} set
 */
export function lacksForm(context, role, cloth, set) {
  const { system, troubles, say } = context;
  const own = cloth.available_mm !== null;

  /** @param {List} list @param {number} i @param {Partial<SpotChoice>} change */
  const change = (list, i, change) => set({ [list]: cloth[list].map((s, k) => (k === i ? { ...s, ...change } : s)) });

  /** @param {List} list @param {number} i */
  function remove(list, i) {
    troubles.forget(`cloth-${role}-${list}-`);
    set({ [list]: cloth[list].filter((_, k) => k !== i) });
  }

  /** @param {List} list */
  function add(list) {
    const index = cloth[list].length;
    set({ [list]: [...cloth[list], list === "flaws" ? newFlaw() : newMissing()] });
    requestAnimationFrame(() => document.getElementById(`cloth-${role}-${list}-${index}-from`)?.focus());
  }

  /** @param {List} list @param {SpotChoice} spot @param {number} i */
  function spotView(list, spot, i) {
    const said = `${list === "flaws" ? "flaw" : "missing part"} ${i + 1} of the ${role} cloth`;
    /** @param {string} name */
    const id = (name) => `cloth-${role}-${list}-${i}-${name}`;
    return html`<p class="sentence quiet lack-row"><span>
      ${list === "flaws" ? "There is a flaw from" : "Cloth is missing from"}
      ${lengthBlank({ id: id("from"), label: `Where the ${said} begins along`, mm: spot.along_from_mm, system, troubles, none: "the end", onChange: (v) => change(list, i, { along_from_mm: v }) })}
      to
      ${lengthBlank({ id: id("to"), label: `Where the ${said} ends along`, mm: spot.along_to_mm, system, troubles, least: 1, onChange: (v) => change(list, i, { along_to_mm: v }) })}
      along, and from
      ${lengthBlank({ id: id("across"), label: `Where the ${said} begins across`, mm: spot.across_from_mm, system, troubles, none: say("the near selvedge"), onChange: (v) => change(list, i, { across_from_mm: v }) })}
      to
      ${optionalLengthBlank({ id: id("across-to"), label: `Where the ${said} ends across`, mm: spot.across_to_mm, system, troubles, none: say("the far selvedge"), onChange: (v) => change(list, i, { across_to_mm: v }) })}
      across${list === "flaws"
        ? html`; keep
            ${lengthBlank({ id: id("margin"), label: `Margin round the ${said}`, mm: spot.margin_mm, system, troubles, none: "nothing", onChange: (v) => change(list, i, { margin_mm: v }) })}
            clear round it`
        : nothing}.</span>
      <button type="button" class="button slight" aria-label=${`Take away the ${said}`} @click=${() => remove(list, i)}>Take away</button>
    </p>`;
  }

  return html`
    ${own
      ? html`<p class="sentence quiet">
          Along the far ${say("selvedge")} that piece measures
          ${optionalLengthBlank({ id: `cloth-${role}-far`, label: say(`Length of the ${role} cloth along the far selvedge`), mm: cloth.far_length_mm, system, troubles, none: "the same", onChange: (v) => set({ far_length_mm: v }) })}.
        </p>
        ${cloth.missing.map((s, i) => spotView("missing", s, i))}`
      : nothing}
    ${cloth.flaws.map((s, i) => spotView("flaws", s, i))}
    <p class="row lack-more">
      <button type="button" class="button slight" ?disabled=${cloth.flaws.length >= MOST} @click=${() => add("flaws")}>The ${role} cloth has a${cloth.flaws.length ? "nother" : ""} flaw</button>
      ${own ? html`<button type="button" class="button slight" ?disabled=${cloth.missing.length >= MOST} @click=${() => add("missing")}>A${cloth.missing.length ? "nother" : ""} part of it is missing</button>` : nothing}
    </p>
    ${cloth.flaws.length || (own && cloth.missing.length)
      ? html`<p class="soft small">${say("Lay the cloth open, right side up, and measure along from its raw end, across from the outer edge of the selvedge nearest to you.")}</p>`
      : nothing}`;
}
