// The ledger as a panel: asked, laid and cut, piece by piece and hand by hand, with its marks.

import { element, heading, wrong } from "./panel.js";

/** @typedef {import("./session.js").Cutting} Cutting */

/** @param {"drawn" | "turned"} hand */
export function handWords(hand) {
  return hand === "drawn" ? "as drawn" : "turned over";
}

/**
 * @param {Cutting} cutting
 * @param {{label: string, key: string, hand_text: string, hands: ("drawn" | "turned")[]}[]} pieces  in cutting order
 * @param {(what: "cut" | "take back" | "spoiled" | "done", key?: string, hand?: string) => void} mark
 * @param {{message: string, hint?: string} | null} refusal
 * @param {() => void} close
 */
export function ledgerPanel(cutting, pieces, mark, refusal, close) {
  return [
    heading("What is cut"),
    ...(refusal ? [wrong(refusal)] : []),
    element("p", { role: "status" }, cutting.gaps_text || (cutting.done ? "All is cut, and called done." : "All that was asked for is cut.")),
    table(["Piece", "Hand", "Asked", "Laid", "Cut", "Spoiled"], cutting.lines.map((line) => [
      element("th", { scope: "row" }, line.piece), element("td", {}, handWords(line.hand)),
      ...[line.asked, line.laid, line.cut, line.spoiled].map((n) => element("td", { class: "number" }, String(n))),
    ])),
    heading3("Marks"),
    table(["Piece", "Hand", ""], pieces.map((piece) => [
      element("th", { scope: "row" }, piece.label), element("td", {}, piece.hand_text),
      element("td", {}, ...buttons(cutting, piece, mark)),
    ])),
    element("div", { class: "actions" },
      element("button", { id: "mark-done", disabled: cutting.done, click: () => mark("done") }, "Call it done"),
      element("button", { class: "main", click: close }, "Close")),
  ];
}

/**
 * @param {Cutting} cutting
 * @param {{label: string, key: string, hand_text: string, hands: ("drawn" | "turned")[]}} piece
 * @param {(what: "cut" | "take back" | "spoiled", key: string, hand?: string) => void} mark
 */
function buttons(cutting, piece, mark) {
  if (!cutting.cut.includes(piece.key)) {
    return [button(`mark-${piece.key}`, "Cut", `${piece.label} is cut`, () => mark("cut", piece.key))];
  }
  const hands = [...new Set(piece.hands)];
  return [
    button(`back-${piece.key}`, "Take back", `${piece.label} is not cut after all`, () => mark("take back", piece.key)),
    ...hands.map((hand) => button(`spoiled-${piece.key}-${hand}`, hands.length > 1 ? `Spoiled: ${handWords(hand)}` : "Spoiled",
      `${piece.label}, ${handWords(hand)}, is spoiled`, () => mark("spoiled", piece.key, hand))),
  ];
}

/** @param {string} id @param {string} said @param {string} label @param {() => void} act */
function button(id, said, label, act) {
  return element("button", { id, "aria-label": label, class: "small", click: act }, said);
}

/** @param {string} said */
function heading3(said) {
  return element("h3", {}, said);
}

/** @param {string[]} heads @param {HTMLElement[][]} rows */
function table(heads, rows) {
  return element("table", {},
    element("thead", {}, element("tr", {}, ...heads.map((h) => (h ? element("th", { scope: "col" }, h) : element("td", {}))))),
    element("tbody", {}, ...rows.map((cells) => element("tr", {}, ...cells))));
}
