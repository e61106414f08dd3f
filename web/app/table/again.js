// When something went wrong: a hand spoiled, a flaw found late, the rest laid again. The sums are pure,
// the panels at the end ask.

import { parseLength } from "../units.js";
import { handWords } from "./ledger.js";
import { box } from "./lines.js";
import { element, heading, wrong } from "./panel.js";

/** @typedef {import("./session.js").Cutting} Cutting */
/** @typedef {import("./map.js").TablePoint} Point */
/** @typedef {{key: string, label: string, piece: string, hands: ("drawn" | "turned")[]}} Piece */
/** @typedef {{along: string, across: string, size: string}} TypedFlaw */
/** @typedef {{keep: boolean, longer: boolean, flaw: TypedFlaw, more: TypedFlaw[], sound: number[]}} Wish `more`: flaws typed before this one; `sound`: known flaws that are none after all */

/** Nothing asked for yet. @type {Wish} */
export const NO_WISH = { keep: true, longer: false, flaw: { along: "", across: "", size: "" }, more: [], sound: [] };

/** Time for the search, s: at once, or when no room was found at once. */
export const SECONDS = { short: 3, long: 30 };

/**
 * Hands that are asked for, not cut, and not on the layout any more.
 * @param {Cutting} cutting
 * @param {Piece[]} pieces  on the layout
 * @returns {string[]} as "1 x Front (turned over)"
 */
export function nowhere(cutting, pieces) {
  return cutting.lines.flatMap((line) => {
    const waiting = pieces.filter((p) => p.piece === line.piece && !cutting.cut.includes(p.key));
    const laid = waiting.flatMap((p) => p.hands).filter((hand) => hand === line.hand).length;
    return line.gap > laid ? [`${line.gap - laid} x ${line.piece} (${handWords(line.hand)})`] : [];
  });
}

/**
 * A flaw as typed, as an outline that no piece may touch: eight corners round a spot.
 * @param {Wish["flaw"]} typed
 * @returns {Point[] | null} cloth mm; null when nothing was typed
 * @throws {Error} naming the field that cannot be read
 */
export function flawOutline({ along, across, size }) {
  if (!along.trim() && !across.trim() && !size.trim()) return null;
  const [x, y, wide] = [["along", along], ["across", across], ["size", size]].map(([name, text]) => {
    try {
      return parseLength(text);
    } catch (error) {
      throw new Error(`The flaw, ${name}: ${/** @type {Error} */ (error).message}`);
    }
  });
  if (!(wide > 0)) throw new Error("The flaw, size: more than nothing is needed");
  // Corners of an octagon round the circle, so that the whole spot is inside.
  const reach = wide / 2 / Math.cos(Math.PI / 8);
  return Array.from({ length: 8 }, (_, i) => {
    const turn = (Math.PI / 8) * (2 * i + 1);
    return /** @type {Point} */ ([x + reach * Math.cos(turn), y + reach * Math.sin(turn)]);
  });
}

/**
 * @param {object} now
 * @param {Cutting} now.cutting
 * @param {{pieces: Piece[], windows: {index: number, box: import("./scene.js").Box}[]}} now.projection  the layout that is lit
 * @param {Piece | null} now.current  the piece that is lit
 * @param {Wish} now.wish
 * @param {boolean} now.busy
 * @param {{message: string, hint?: string} | null} now.refusal
 * @param {object} on
 * @param {(key: string, hand: "drawn" | "turned") => void} on.spoiled
 * @param {() => void} on.another
 * @param {() => void} on.typed  something was typed or ticked
 * @param {() => void} on.lay
 * @param {() => void} on.close
 */
export function againPanel({ cutting, projection, current, wish, busy, refusal }, on) {
  const lost = nowhere(cutting, projection.pieces);
  const keep = /** @type {HTMLInputElement} */ (element("input", { type: "checkbox", id: "again-keep", checked: wish.keep }));
  const longer = /** @type {HTMLInputElement} */ (element("input", { type: "checkbox", id: "again-longer", checked: wish.longer }));
  /** @param {"along" | "across" | "size"} name */
  const field = (name) => /** @type {HTMLInputElement} */ (element("input", { id: `again-${name}`, value: wish.flaw[name], autocomplete: "off", spellcheck: "false", size: "9" }));
  const [along, across, size] = [field("along"), field("across"), field("size")];
  return [
    heading("Something went wrong"),
    ...(refusal ? [wrong(refusal)] : []),
    element("p", { role: "status" }, busy ? "The rest is being laid again. Leave the cloth as it lies." : lostWords(lost, cutting)),
    ...(current ? [spoiledRow(cutting, current, busy, on.spoiled)] : []),
    element("form", { submit: (e) => { e.preventDefault(); on.lay(); }, input: on.typed },
      element("h3", {}, "A flaw in the cloth"),
      element("p", { class: "soft" }, "Leave empty if there is none. Bare numbers are mm. Along: from the squared end. Across: from the fold, or from the inner edge of the near selvedge. It is lit as you type, dashed and crossed out: close this and look whether it lies right."),
      element("div", { class: "row" }, ...[["again-along", "Along", along], ["again-across", "Across", across], ["again-size", "As wide as", size]].map(([id, said, input]) => element("span", { class: "pair" },
        element("label", { for: /** @type {string} */ (id) }, /** @type {string} */ (said)), /** @type {Node} */ (input))),
        element("button", { type: "button", id: "again-another", disabled: busy, click: on.another }, "And another")),
      ...listed("To be kept clear", wish.more.map((f, i) => flawRow("more", i, true, `${f.along} along, ${f.across} across, ${f.size} wide${litIn(flawOutline(f), projection.windows)}`, JSON.stringify(f)))),
      ...listed("Kept clear so far. Where the cloth is sound after all, take the tick away; let sound pieces move too, or they stay off that place", cutting.flaws.map((outline, i) => flawRow("known", i, !wish.sound.includes(i), `${whereOf(outline)}${litIn(outline, projection.windows)}`))),
      element("h3", {}, "The rest"),
      element("div", { class: "row tick" }, keep, element("label", { for: "again-keep" }, "Leave sound pieces where they lie")),
      element("div", { class: "row tick" }, longer, element("label", { for: "again-longer" }, `Search for ${SECONDS.long} seconds instead of ${SECONDS.short}`)),
      element("div", { class: "actions" },
        element("button", { id: "again-lay", class: "main", disabled: busy || !cutting.gaps_text }, "Lay the rest again"),
        element("button", { type: "button", id: "again-close", click: on.close }, "Close"))),
  ];
}

/** What stands in the panel's fields now. @returns {Wish | null} null when it is not open */
export function typedWish() {
  const [keep, longer, along, across, size] = ["keep", "longer", "along", "across", "size"].map((name) => /** @type {HTMLInputElement | null} */ (document.getElementById(`again-${name}`)));
  if (!keep || !longer || !along || !across || !size) return null;
  /** @param {string} name */
  const boxes = (name) => /** @type {HTMLInputElement[]} */ ([...document.querySelectorAll(`[data-flaw="${name}"]`)]);
  const more = boxes("more").flatMap((box) => (box.checked ? [/** @type {TypedFlaw} */ (JSON.parse(box.value))] : []));
  const sound = boxes("known").flatMap((box, i) => (box.checked ? [] : [i]));
  return { keep: keep.checked, longer: longer.checked, flaw: { along: along.value, across: across.value, size: size.value }, more, sound };
}

/** Where a flaw lies, in words. @param {Point[]} outline cloth mm */
export function whereOf(outline) {
  const [xs, ys] = [outline.map((p) => p[0]), outline.map((p) => p[1])];
  const [x0, x1, y0, y1] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
  return `${Math.round((x0 + x1) / 2) + 0} mm along, ${Math.round((y0 + y1) / 2) + 0} mm across, ${Math.max(x1 - x0, y1 - y0).toFixed(0)} mm wide`;
}

/** The windows that light a place, in words. @param {Point[] | null} outline @param {{index: number, box: import("./scene.js").Box}[]} windows */
export function litIn(outline, windows) {
  if (!outline) return "";
  const [x0, y0, x1, y1] = box(outline);
  const found = windows.filter(({ box: [a, b, c, d] }) => x0 < c && x1 > a && y0 < d && y1 > b).map((w) => w.index + 1);
  if (!found.length) return ", outside the lit cloth";
  return `, lit in ${found.length > 1 ? "windows" : "window"} ${found.join(", ")}`;
}

/** @param {"more" | "known"} list @param {number} i @param {boolean} clear @param {string} said @param {string} [value] */
function flawRow(list, i, clear, said, value = "") {
  const id = `again-${list}-${i}`;
  return element("div", { class: "row tick" }, element("input", { type: "checkbox", id, "data-flaw": list, checked: clear, value }), element("label", { for: id }, said));
}

/** @param {string} said @param {Node[]} rows */
function listed(said, rows) {
  return rows.length ? [element("p", { class: "soft" }, `${said}:`), ...rows] : [];
}

/**
 * What stands on the table after the rest was laid again.
 * @param {Cutting} cutting
 * @param {{box: import("./scene.js").Box}[]} pieces  on the new layout
 * @param {() => void} close
 */
export function laidAgainPanel(cutting, pieces, close) {
  const end = Math.max(...pieces.map((p) => p.box[2]));
  const { measured } = cutting;
  return [
    heading("The rest is laid again"),
    element("p", {}, `What is cut stays cut, and nothing lies over its holes. ${cutting.gaps_text}`),
    ...(measured ? [element("p", { class: measured.fits ? "" : "wrong" }, measured.fits ? measured.words : `The cloth is short by ${Math.max(0, -measured.spare_length_mm).toFixed(0)} mm along, ${Math.max(0, -measured.spare_width_mm).toFixed(0)} mm across. Do not cut.`)]
      : [element("p", {}, `Its last piece ends ${(end / 10).toFixed(0)} cm from the squared end. The cloth was not measured: do that now (W), or look whether it reaches so far.`)]),
    element("p", {}, measured && !measured.fits
      ? "It cannot be approved. Try again (Z) with a longer search and the sound pieces free to move; if it stays short, the missing piece needs more cloth. What is cut stays marked."
      : "Lay the cloth along the light again as at the beginning, look every window through, and approve before the next cut."),
    element("div", { class: "actions" }, element("button", { id: "laid-on", class: "main", click: close }, "Look it through")),
  ];
}

/** @param {string[]} lost @param {Cutting} cutting */
function lostWords(lost, cutting) {
  if (lost.length) return `Not on this layout any more: ${lost.join(", ")}. Lay the rest again; the sound pieces can wait or be cut first.`;
  return cutting.gaps_text ? "All that is missing still has its place on the layout." : "All that was asked for is cut; there is nothing to lay again.";
}

/** @param {Cutting} cutting @param {Piece} piece @param {boolean} busy @param {(key: string, hand: "drawn" | "turned") => void} spoiled */
function spoiledRow(cutting, piece, busy, spoiled) {
  const gone = cutting.spoiled.filter(([key]) => key === piece.key).map(([, hand]) => hand);
  const hands = [...new Set(piece.hands)].filter((hand) => !gone.includes(hand));
  return element("div", {},
    element("h3", {}, `${piece.label} is spoiled`),
    element("p", { class: "soft" }, "It counts as cut out of the cloth; the hand named is cut anew from what is left."),
    element("div", { class: "row" }, ...hands.map((hand) => element("button", { id: `again-${hand}`, disabled: busy, click: () => spoiled(piece.key, hand) }, hands.length > 1 || gone.length ? `Spoiled: ${handWords(hand)}` : "Spoiled")),
      ...(gone.length ? [`Spoiled: ${gone.map(handWords).join(", ")}.`] : [])));
}
