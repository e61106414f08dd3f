// The tape route: one distance after another between lit crosses, each held against the others.

import { call } from "../api.js";
import { element, heading } from "../table/panel.js";
import { settingChanges } from "../table/surface.js";
import { crossSet, freeRoom, pairsOf } from "./crosses.js";
import { isPair, mayKeep, nextPair, offWords, withReading } from "./readings.js";
import { noRoom, said } from "./rig.js";
import { tapeUnit, unitChoice, withUnit } from "./unit.js";

/** @typedef {import("./rig.js").Rig} Rig */
/** @typedef {import("./readings.js").Reading} Reading */
/** @typedef {import("./readings.js").Tried} Tried */

const KEPT = "grainfold.readings";

/** @type {Readonly<Record<string, string>>} */
const EXAMPLES = Object.freeze({ in: "47 3/8", cm: "120.35", mm: "1203.5" });

/** @param {Rig} rig @param {"corners" | "grid"} kind */
export function tape(rig, kind) {
  const setting = rig.lamp.setting();
  if (!setting) return rig.go.start();
  const made = setting;
  const set = crossSet(kind, made.canvas);
  let readings = kept(kind, made);
  /** @type {Tried | null} */
  let tried = null;
  /** @type {import("./rig.js").Trouble | null} */
  let trouble = null;
  /** @type {[string, string] | null} */
  let asked = null;
  let keeping = false;
  /** Readings are tried one after another, each upon what came of the one before. @type {Promise<void>} */
  let line = Promise.resolve();

  // The parts that change; what is typed in them stays through all that happens to the others.
  const title = heading("");
  const words = element("div", {});
  const question = element("div", {});
  const heard = element("div", {});
  const keepButton = /** @type {HTMLButtonElement} */ (element("button", { click: () => void keep() }, "Keep, and check"));
  const count = element("span", { class: "soft" });
  const rows = element("tbody", {});
  const table = element("table", { class: "readings" },
    element("thead", {}, element("tr", {}, ...["Distance", "Read", "Against the others"].map((t) => element("th", { scope: "col" }, t)))), rows);

  const still = rig.open(draw);
  enqueue(() => tryReadings(readings));
  draw();

  /** @param {() => Promise<void>} what */
  function enqueue(what) {
    line = line.then(what).then(() => (still() ? draw() : undefined));
  }

  function draw() {
    if (!rig.holds(made)) return;
    const pair = nextPair(kind, readings, tried);
    const again = pair !== null && readings.some((r) => isPair(r, pair));
    const left = pairsOf(kind).length - readings.length;
    rig.lamp.show({ kind: "crosses", set, pair });
    const fits = rig.place(true, () => freeRoom(set, made.canvas));
    title.textContent = pair ? `Measure ${pair[0]} to ${pair[1]}${again ? " again" : ""}` : "All distances are measured";
    words.replaceChildren(...(fits ? [] : [noRoom()]), ...said(trouble));
    heard.replaceChildren(
      ...(tried?.words.length ? [element("p", { role: "status" }, tried.words.join(" "))] : []),
      ...(mayKeep(tried) ? [element("p", {}, `By these distances the lines will be true to about ${tenths(tried?.p95_mm)} mm.`)] : []));
    keepButton.className = mayKeep(tried) ? "main" : "";
    keepButton.disabled = keeping || !mayKeep(tried);
    count.textContent = left > 0 ? `${readings.length} measured, ${left} to go${mayKeep(tried) ? "; more make it truer" : ""}` : `${readings.length} measured`;
    drawRows();
    if (rig.panel.name !== "measure") {
      rig.panel.show("measure", title, words, question, heard,
        element("div", { class: "actions" }, keepButton, element("button", { click: () => rig.go.start() }, "Back"), count), table);
    }
    ask(pair);
  }

  /** Ask for a distance: a fresh field for each one. @param {[string, string] | null} pair */
  function ask(pair) {
    const field = /** @type {HTMLInputElement | null} */ (question.querySelector("#reading"));
    // Asked for already, and not yet sent: what is half typed stays.
    if (pair && field && !field.disabled && asked?.join() === pair.join()) return;
    // Refused: it is there to be put right.
    const refused = trouble && field?.disabled && asked?.join() === pair?.join() ? field.value : "";
    asked = pair;
    if (!pair) return question.replaceChildren();
    const input = /** @type {HTMLInputElement} */ (element("input", { id: "reading", inputmode: "text", autocomplete: "off", spellcheck: "false", size: "10", value: refused, placeholder: EXAMPLES[tapeUnit()] }));
    question.replaceChildren(element("form", { class: "row", submit: (e) => {
        e.preventDefault();
        if (input.value.trim() === "") return;
        // Until the next distance is asked for, nothing more can be typed for this one.
        input.disabled = true;
        take(pair, input.value);
      } },
      element("label", { for: "reading" }, "From middle to middle"),
      input, unitChoice(() => input.setAttribute("placeholder", EXAMPLES[tapeUnit()])), element("button", { class: "main" }, "Next")));
    input.focus();
    input.select();
  }

  /** @param {[string, string]} pair @param {string} typed */
  function take(pair, typed) {
    const text = withUnit(typed);
    enqueue(() => tryReadings(withReading(readings, pair, text)));
  }

  /** @param {Reading[]} wished */
  async function tryReadings(wished) {
    try {
      const found = /** @type {Tried | null} */ (wished.length ? await call("POST", "/maps/try", request(wished)) : null);
      readings = wished;
      tried = found;
      trouble = null;
      if (readings.length) localStorage.setItem(KEPT, JSON.stringify({ kind, made, readings }));
    } catch (error) {
      trouble = /** @type {Error} */ (error);
    }
  }

  /** @param {Reading[]} wished */
  function request(wished) {
    return {
      canvas: made.canvas, crosses: set.crosses, origin: set.origin, along: set.along,
      distances: wished.map((r) => ({ from: r.from, to: r.to, mm: r.typed })),
    };
  }

  function drawRows() {
    table.hidden = readings.length === 0;
    readings.forEach((reading, i) => {
      const found = tried?.residuals.find((r) => isPair(reading, [r.from, r.to]));
      const row = rows.children[i] ?? rows.appendChild(newRow(reading));
      row.className = found?.odd ? "odd" : "";
      const input = /** @type {HTMLInputElement} */ (row.querySelector("input"));
      if (document.activeElement !== input) input.value = reading.typed;
      row.children[2].textContent = found ? `${offWords(found.off_mm)}${found.odd ? ": measure again" : ""}` : "";
    });
  }

  /** @param {Reading} reading */
  function newRow({ from, to, typed }) {
    const now = () => readings.find((r) => isPair(r, [from, to]))?.typed ?? typed;
    return element("tr", {},
      element("th", { scope: "row" }, `${from} to ${to}`),
      element("td", {}, element("input", { value: typed, "aria-label": `${from} to ${to}`, autocomplete: "off", spellcheck: "false",
        change: (e) => { if (e.target.value.trim()) take([from, to], e.target.value); else e.target.value = now(); } })),
      element("td", {}));
  }

  async function keep() {
    keeping = keepButton.disabled = true;
    await line;
    if (!still()) return;
    try {
      const map = await call("POST", "/maps", { ...request(readings), name: "table, by tape", dpr: made.dpr, screen: made.screen });
      localStorage.removeItem(KEPT);
      rig.inUse = map;
      if (still()) rig.go.check(map);
    } catch (error) {
      keeping = false;
      trouble = /** @type {Error} */ (error);
      if (still()) draw();
    }
  }
}

/** Readings of before a reload, if the picture is still the same. @param {"corners" | "grid"} kind @param {import("./rig.js").ScreenSetting} setting @returns {Reading[]} */
function kept(kind, setting) {
  try {
    const found = JSON.parse(localStorage.getItem(KEPT) ?? "null");
    return found && found.kind === kind && settingChanges(found.made, setting).length === 0 ? found.readings : [];
  } catch {
    return [];
  }
}

/** @param {number | null | undefined} mm */
function tenths(mm) {
  return (mm ?? 0).toFixed(1);
}
