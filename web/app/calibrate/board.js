// The printed board as the person measured it: a sentence to fill in, kept through a reload.

import { element } from "../table/panel.js";

/** @typedef {{columns: string, rows: string, alongSquares: string, along: string, acrossSquares: string, across: string, unit: string}} Board */

const KEPT = "grainfold.board";

/** @type {Board} */
const A3_BOARD = { columns: "9", rows: "6", alongSquares: "10", along: "", acrossSquares: "7", across: "", unit: "mm" };

/**
 * The sentence, made once, and the board as it stands in it.
 * @param {() => void} changed  a field was left with something else in it
 */
export function boardForm(changed) {
  const board = keptBoard();
  let told = JSON.stringify(board);
  // A field may be left with what was in it: that is no other board.
  const tell = () => {
    const now = JSON.stringify(board);
    if (now === told) return;
    told = now;
    changed();
  };
  /** @param {keyof Board} name @param {string} text */
  const keep = (name, text) => {
    board[name] = text.trim();
    localStorage.setItem(KEPT, JSON.stringify(board));
  };
  /** @param {keyof Board} name @param {string} label @param {string} size */
  const field = (name, label, size) => element("input", {
    id: `board-${name}`, value: board[name], "aria-label": label, size, autocomplete: "off", spellcheck: "false", inputmode: name === "along" || name === "across" ? "text" : "numeric",
    input: (e) => keep(name, e.target.value),
    change: tell,
  });
  const sentence = element("p", { class: "sentence" },
    "The board has ", field("columns", "Inner corners of the board, first count", "2"), " by ", field("rows", "Inner corners of the board, second count", "2"),
    " points where four squares meet. Along, ", field("alongSquares", "Squares measured along", "2"), " squares measure ", field("along", "Length measured along", "8"),
    "; across, ", field("acrossSquares", "Squares measured across", "2"), " squares measure ", field("across", "Length measured across", "8"), " ",
    element("select", { id: "board-unit", "aria-label": "Unit of bare numbers", change: (e) => { keep("unit", e.target.value); tell(); } },
      ...[["mm", "mm"], ["cm", "cm"], ["in", "inches"]].map(([v, t]) => element("option", { value: v, selected: v === board.unit }, t))), ".");
  return {
    sentence,
    /** As the service wants it. */
    wire: () => ({
      corners: [Number(board.columns), Number(board.rows)],
      along: { squares: Number(board.alongSquares), length: board.along },
      across: { squares: Number(board.acrossSquares), length: board.across },
      unit: board.unit,
    }),
  };
}

/** @returns {Board} */
function keptBoard() {
  try {
    return { ...A3_BOARD, ...JSON.parse(localStorage.getItem(KEPT) ?? "{}") };
  } catch {
    return { ...A3_BOARD };
  }
}
