// The settings panel of the table view, and what the keys are.

import { LIGHTS, ROOMS, contrast, contrastWords } from "./contrast.js";
import { element, heading } from "./panel.js";
import { CAPS_MM, WIDTHS_MM, bestLight, lightCss, roomShare } from "./prefs.js";

/** @typedef {import("./prefs.js").Prefs} Prefs */

/** @type {[string, string][]} */
export const KEYS = [
  ["→  ↓  Page Down  space", "next window, or next piece"],
  ["←  ↑  Page Up", "back"],
  ["Home, End", "first, last"],
  ["Enter", "on from guides and layout; in the cutting, one piece at a time"],
  ["W", "measure the real cloth before the first cut"],
  ["X", "this piece is cut: mark it, and on to the next"],
  ["Z", "something went wrong: a piece spoiled, a flaw in the cloth; lay the rest again"],
  ["K", "what is cut: the ledger"],
  ["R", "after drawing the cloth along: where the chalk lies off the light"],
  ["P", "all of the window, or one piece at a time"],
  ["G", "cloth outline and grain guides"],
  ["C", "check lines, one after another"],
  ["S", "test strip of lines"],
  ["+  −", "wider, thinner line"],
  ["L, U", "next light; lit or unlit lines"],
  ["N", "net lines"],
  ["T", "turn the words to the other side of the table"],
  ["M", "settings"],
  ["F", "fill the screen"],
  ["?", "this list"],
  ["Esc", "leave"],
];

/** @param {() => void} close */
export function keysPanel(close) {
  return [
    heading("Keys"),
    element("dl", { class: "keys" }, ...KEYS.flatMap(([key, what]) => [element("dt", {}, key), element("dd", {}, what)])),
    element("p", { class: "soft" }, "Pedals and clickers that send Page Down and Page Up, arrows, space or Enter work as they are."),
    element("div", { class: "actions" }, element("button", { class: "main", click: close }, "Close")),
  ];
}

/**
 * @param {Prefs} prefs
 * @param {(change: Partial<Prefs>) => void} change
 * @param {() => void} close
 * @param {string} [checked]  when the map was last checked, in words
 */
export function settingsPanel(prefs, change, close, checked = "") {
  const ratio = contrast(prefs.cloth, lightCss(prefs), roomShare(prefs));
  return [
    heading("How it is lit"),
    row("The cloth is", "cloth", colourField(prefs, change)),
    choice("The room is", "room", ROOMS.map((r) => [r.name, r.label]), prefs.room, (v) => change({ room: v })),
    choice("Light", "light", LIGHTS.map((l) => [l.name, l.label]), prefs.light, (v) => change({ light: v })),
    choice("Shown as", "ground", [["lit lines", "lit lines, unlit field"], ["unlit lines", "unlit lines, lit field"]], prefs.ground, (v) => change({ ground: /** @type {Prefs["ground"]} */ (v) })),
    element("p", { role: "status" }, element("span", { class: "soft" }, "Light to dark on this cloth: "), contrastWords(ratio)),
    choice("Line", "width", WIDTHS_MM.map((w) => [String(w), `${w} mm wide`]), String(prefs.width_mm), (v) => change({ width_mm: Number(v) })),
    choice("Capitals", "cap", CAPS_MM.map((c) => [String(c), `${c} mm tall`]), String(prefs.cap_mm), (v) => change({ cap_mm: Number(v) })),
    tick("Net lines too", "net", prefs.net, (v) => change({ net: v })),
    tick("Words face the far side", "turned", prefs.turned, (v) => change({ turned: v })),
    element("p", { class: "soft" }, "A lit line's inner edge is the cutting edge: keep the light on the waste side of the blade."),
    ...(checked ? [element("p", { id: "last-checked" }, checked, " ", element("a", { href: "/calibrate" }, "To the calibration"), ".")] : []),
    element("div", { class: "actions" },
      element("button", { click: () => change(bestLight(prefs)) }, "Best for this cloth"),
      element("button", { class: "main", click: close }, "Close")),
  ];
}

/** @param {Prefs} prefs @param {(change: Partial<Prefs>) => void} change */
function colourField(prefs, change) {
  const picked = element("input", { type: "color", id: "set-cloth", value: prefs.cloth, change: (e) => change({ cloth: e.target.value }) });
  const typed = element("input", {
    "aria-label": "The cloth's colour in figures", value: prefs.cloth, size: "8", spellcheck: "false",
    change: (e) => {
      const css = e.target.value.trim().toLowerCase();
      if (/^#[0-9a-f]{6}$/.test(css)) change({ cloth: css });
      else e.target.value = prefs.cloth;
    },
  });
  return [picked, typed];
}

/** @param {string} said @param {string} name @param {Node[]} fields */
function row(said, name, fields) {
  return element("div", { class: "row" }, element("label", { for: `set-${name}` }, said), ...fields);
}

/** @param {string} said @param {string} name @param {string[][]} options @param {string} value @param {(value: string) => void} set */
function choice(said, name, options, value, set) {
  const select = element("select", { id: `set-${name}`, change: (e) => set(e.target.value) },
    ...options.map(([v, label]) => element("option", { value: v, selected: v === value }, label)));
  return row(said, name, [select]);
}

/** @param {string} said @param {string} name @param {boolean} value @param {(value: boolean) => void} set */
function tick(said, name, value, set) {
  return element("div", { class: "row tick" },
    element("input", { type: "checkbox", id: `set-${name}`, checked: value, change: (e) => set(e.target.checked) }),
    element("label", { for: `set-${name}` }, said));
}
