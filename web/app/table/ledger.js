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
 * @param {(() => void) | null} [again]  opens what to do when something went wrong; null where that is done elsewhere
 */
export function ledgerPanel(cutting, pieces, mark, refusal, close, again = null) {
  const before = cutting.earlier.filter(({ key }) => !pieces.some((p) => p.key === key)).map(({ key, hands }) => ({
    key, hands, label: key.slice(0, key.lastIndexOf("#")), hand_text: hands.map(handWords).join(", "),
  }));
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
    ...(before.length ? [
      heading3("Cut before the rest was laid again"),
      table(["Piece", "Hand", ""], before.map((piece) => [
        element("th", { scope: "row" }, piece.label), element("td", {}, piece.hand_text),
        element("td", {}, ...spoiling(cutting, piece, mark)),
      ])),
    ] : []),
    ...(again || !cutting.spoiled.length || !cutting.gaps_text ? [] : [element("p", {}, "What is spoiled is laid again at the table: Z there.")]),
    element("div", { class: "actions" },
      ...(again ? [element("button", { id: "mark-again", click: again }, "Lay the rest again…")] : []),
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
  return [
    button(`back-${piece.key}`, "Take back", `${piece.label} is not cut after all`, () => mark("take back", piece.key)),
    ...spoiling(cutting, piece, mark),
  ];
}

/**
 * Buttons for hands that are sound, words for those that are spoiled.
 * @param {Cutting} cutting
 * @param {{label: string, key: string, hands: ("drawn" | "turned")[]}} piece
 * @param {(what: "spoiled", key: string, hand: string) => void} mark
 * @returns {(Node | string)[]}
 */
function spoiling(cutting, piece, mark) {
  const hands = [...new Set(piece.hands)];
  /** @param {string} hand */
  const sound = (hand) => cutting.spoiled.filter(([key, h]) => key === piece.key && h === hand).length < piece.hands.filter((h) => h === hand).length;
  return hands.map((hand) => {
    const said = hands.length > 1 ? `Spoiled: ${handWords(hand)}` : "Spoiled";
    return sound(hand) ? button(`spoiled-${piece.key}-${hand}`, said, `${piece.label}, ${handWords(hand)}, is spoiled`, () => mark("spoiled", piece.key, hand)) : `${said}.`;
  });
}

/** @param {string} id @param {string} said @param {string} label @param {() => void} act */
function button(id, said, label, act) {
  return element("button", { id, "aria-label": label, class: "small", click: act }, said);
}

/** @param {string} said */
function heading3(said) {
  return element("h3", {}, said);
}

/** Headings of columns of figures. */
const NUMBERS = new Set(["Asked", "Laid", "Cut", "Spoiled"]);

/** @param {string[]} heads @param {HTMLElement[][]} rows */
function table(heads, rows) {
  return element("table", {},
    element("thead", {}, element("tr", {}, ...heads.map((h) => (h ? element("th", { scope: "col", class: NUMBERS.has(h) ? "number" : "" }, h) : element("td", {}))))),
    element("tbody", {}, ...rows.map((cells) => element("tr", {}, ...cells))));
}
