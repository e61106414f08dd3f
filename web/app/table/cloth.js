// Measuring the real cloth before the first cut: five readings, and whether the layout fits.

import { element, heading, wrong } from "./panel.js";

/** @typedef {{lengths_mm: number[], widths_mm: number[], spare_length_mm: number, spare_width_mm: number, narrowest: number, fits: boolean, words: string}} Measured */

/** @type {[string, string][]} */
const FIELDS = [
  ["l1", "Length along one selvedge"],
  ["l2", "Length along the other"],
  ["w1", "Width near the squared end"],
  ["w2", "Width in the middle"],
  ["w3", "Width near the far end"],
];

const UNIT = "grainfold.tape-unit";

/**
 * @param {Measured | null} measured
 * @param {(wish: {lengths: string[], widths: string[], unit: string}) => void} take
 * @param {() => void} close
 * @param {{message: string, hint?: string} | null} refusal
 */
export function clothPanel(measured, take, close, refusal) {
  const unit = localStorage.getItem(UNIT) ?? "cm";
  const select = /** @type {HTMLSelectElement} */ (element("select", { id: "cloth-unit", change: (e) => localStorage.setItem(UNIT, e.target.value) },
    ...[["cm", "cm"], ["mm", "mm"], ["in", "inches"]].map(([v, label]) => element("option", { value: v, selected: v === unit }, label))));
  const inputs = FIELDS.map(([name]) => /** @type {HTMLInputElement} */ (element("input", { id: `cloth-${name}`, autocomplete: "off", spellcheck: "false", size: "9" })));
  const send = () => take({ lengths: inputs.slice(0, 2).map((i) => i.value), widths: inputs.slice(2).map((i) => i.value), unit: select.value });
  return [
    heading("Measure the cloth before the first cut"),
    element("p", {}, "Washed and pressed as it will be cut, opened out to its full width, selvedges included."),
    ...(refusal ? [wrong(refusal)] : []),
    ...(measured ? [element("p", { role: "status", class: measured.fits ? "" : "wrong" }, measured.words)] : []),
    element("form", { submit: (e) => { e.preventDefault(); send(); } },
      element("div", { class: "fields" },
        ...FIELDS.flatMap(([name, said], i) => [element("label", { for: `cloth-${name}` }, said), inputs[i]]),
        element("label", { for: "cloth-unit" }, "Bare numbers are"), select),
      element("div", { class: "actions" }, element("button", { class: "main" }, "Does it fit?"), element("button", { type: "button", click: close }, "Close"))),
  ];
}
