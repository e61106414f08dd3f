// Cloth that lies higher than what was measured on: how far off the light would fall, then a map for it.

import { call } from "../api.js";
import { element } from "../table/panel.js";
import { said } from "./rig.js";
import { tapeUnit, unitChoice } from "./unit.js";

/** @typedef {import("./rig.js").Rig} Rig */
/** @typedef {import("./rig.js").MapDetail} MapDetail */

const NOTHING = { thickness: "", plies: "1", height: "", along: "", across: "" };

/**
 * The form, made once a map: what is typed in it stays while the rest of the panel is drawn again.
 * @param {Rig} rig
 * @param {MapDetail} map
 * @param {() => boolean} still
 */
export function clothPart(rig, map, still) {
  const typed = { ...NOTHING };
  // What was told holds for what was typed then.
  let asked = 0;
  const told = element("div", { role: "status" });
  /** @param {keyof typeof NOTHING} name @param {string} label */
  const field = (name, label) => element("input", {
    id: `cloth-${name}`, "aria-label": label, value: typed[name], size: "7", autocomplete: "off", spellcheck: "false",
    input: (e) => { typed[name] = e.target.value; forget(); },
  });
  return element("details", {}, element("summary", {}, "The cloth lies higher than what was measured on"),
    element("p", { class: "soft" }, "Best is to measure on the cloth itself. Otherwise light aimed at the table falls short on thick cloth, the more the farther from below the lens. Hang a weight on a thread from the lens to find the point under it, and measure by tape. Never lean over a ladder for it."),
    element("form", { submit: (e) => { e.preventDefault(); void tell(); } },
      element("p", { class: "sentence" }, "One ply is ", field("thickness", "Thickness of one ply"), " thick, there are ", field("plies", "How many plies"), " of them; the lens is ", field("height", "Height of the lens over the table"), " above the table, over the point ", field("along", "Point under the lens, to the right of the near left corner of the light"), " to the right of the light's near left corner and ", field("across", "Point under the lens, away from you from that corner"), " away from you."),
      element("p", {}, "Bare numbers are ", unitChoice(forget, "cloth-unit"), ". ", element("button", { id: "cloth-tell" }, "How far off would the light fall?"))),
    told);

  function wish() {
    return { ...typed, plies: Number(typed.plies) || 1, unit: tapeUnit() };
  }

  function forget() {
    asked += 1;
    told.replaceChildren();
  }

  async function tell() {
    forget();
    const mine = asked;
    try {
      const shift = /** @type {{words: string}} */ (await call("POST", `/maps/${map.id}/on-cloth/shift`, wish()));
      if (mine !== asked) return;
      told.replaceChildren(element("p", {}, shift.words),
        element("p", {}, element("button", { id: "cloth-raise", class: "main", click: (e) => { e.target.disabled = true; void raise(); } }, "Make the map for the cloth")));
      document.getElementById("cloth-raise")?.focus();
    } catch (error) {
      if (mine === asked) told.replaceChildren(...said(/** @type {Error} */ (error)));
    }
  }

  async function raise() {
    try {
      const made = /** @type {MapDetail} */ (await call("POST", `/maps/${map.id}/on-cloth`, wish()));
      rig.inUse = made;
      if (still()) rig.go.check(made);
    } catch (error) {
      if (still()) told.replaceChildren(...said(/** @type {Error} */ (error)));
    }
  }
}
