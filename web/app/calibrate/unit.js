// The unit of the person's tape: bare numbers are in it, on every panel, and after a reload.

import { element } from "../table/panel.js";

const KEPT = "grainfold.tape-unit";
const UNITS = [["cm", "cm"], ["mm", "mm"], ["in", "inches"]];

export function tapeUnit() {
  const kept = localStorage.getItem(KEPT);
  return UNITS.some(([unit]) => unit === kept) ? /** @type {string} */ (kept) : "cm";
}

/** @param {() => void} [changed] @param {string} [id] */
export function unitChoice(changed = () => undefined, id = "unit") {
  const now = tapeUnit();
  return element("select", { "aria-label": "Unit of bare numbers", id, change: (e) => { localStorage.setItem(KEPT, e.target.value); changed(); } },
    ...UNITS.map(([value, label]) => element("option", { value, selected: value === now }, label)));
}

/** A bare number with the unit chosen now, which it keeps when another is chosen later. @param {string} typed */
export function withUnit(typed) {
  return /[a-z"'″]/i.test(typed) ? typed : `${typed.trim()} ${tapeUnit()}`;
}
