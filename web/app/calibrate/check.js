// Known lengths are lit one after another; what the tape says of them judges the map.

import { call } from "../api.js";
import { element, heading } from "../table/panel.js";
import { tableMap } from "../table/map.js";
import { roomBeside } from "./crosses.js";
import { noRoom, said } from "./rig.js";
import { unitChoice, tapeUnit } from "./unit.js";

/** @typedef {import("./rig.js").Rig} Rig */
/** @typedef {import("./rig.js").MapDetail} MapDetail */
/** @typedef {import("./rig.js").CheckLine} CheckLine */

/** Light the lines that must be measured. @param {Rig} rig @param {MapDetail} map */
export async function checkMap(rig, map) {
  await withLines(rig, map, (lines) => rig.go.lines(map, lines, lines.filter((l) => l.needed)));
}

/** Only tell what is known. @param {Rig} rig @param {MapDetail} map */
export async function knownOfMap(rig, map) {
  await withLines(rig, map, (lines) => rig.go.verdict(map, lines));
}

/** @param {Rig} rig @param {MapDetail} map @param {(lines: CheckLine[]) => void} then */
async function withLines(rig, map, then) {
  const still = rig.turn();
  try {
    const { lines } = /** @type {{lines: CheckLine[]}} */ (await call("GET", `/maps/${map.id}/check-lines`));
    if (still()) then(lines);
  } catch (error) {
    if (still()) rig.go.start(/** @type {Error} */ (error));
  }
}

/**
 * Light these lines, one after another, then say what follows.
 * @param {Rig} rig
 * @param {MapDetail} first
 * @param {CheckLine[]} lines  all of the map
 * @param {CheckLine[]} todo
 */
export function checkLines(rig, first, lines, todo) {
  let map = first;
  let index = 0;
  /** @type {import("./rig.js").Trouble | null} */
  let trouble = null;
  let typed = "";
  let waiting = false;
  const still = rig.open(draw);
  draw();

  function draw() {
    if (!rig.holds(map)) return;
    const line = todo[index];
    if (!line) return rig.go.verdict(map, lines);
    rig.lamp.show({ kind: "line", line, map });
    const lit = tableMap(map);
    const fits = rig.place(true, roomBeside(lit.toCanvas(line.from), lit.toCanvas(line.to), map.canvas));
    const input = /** @type {HTMLInputElement} */ (element("input", { id: "reading", autocomplete: "off", spellcheck: "false", size: "10", value: typed, disabled: waiting, input: (e) => { typed = e.target.value; } }));
    rig.panel.show(`check-${index}`,
      heading(`Check line: ${line.label}`),
      ...(fits ? [] : [noRoom()]),
      ...said(trouble),
      element("p", {}, `${index + 1} of ${todo.length}. Between the outer sides of its ends. Type what the tape says, not what it should say.`),
      element("form", { class: "row", submit: (e) => { e.preventDefault(); if (typed.trim() && !waiting) void send(line); } },
        element("label", { for: "reading" }, "It measures"), input, unitChoice(), element("button", { class: "main" }, "Next")),
      element("div", { class: "actions" }, element("button", { click: () => next() }, "Skip this one"), element("button", { click: () => rig.go.start() }, "Back")));
    input.focus();
  }

  function next() {
    index += 1;
    typed = "";
    trouble = null;
    waiting = false;
    draw();
  }

  /** @param {CheckLine} line */
  async function send(line) {
    const mine = index;
    waiting = true;
    /** @type {HTMLInputElement | null} */ (document.querySelector("#reading"))?.setAttribute("disabled", "");
    try {
      map = rig.inUse = /** @type {MapDetail} */ (await call("POST", `/maps/${map.id}/checks`, { line: line.id, measured: typed, unit: tapeUnit() }));
      // Skipped meanwhile: the reading counts, and the line that is asked for now stays.
      if (still() && index === mine) next();
    } catch (error) {
      if (!still() || index !== mine) return;
      waiting = false;
      trouble = /** @type {Error} */ (error);
      draw();
    }
  }
}
