// The board laid down again: where it lies is looked up by the map, its outline is lit, a second
// photograph tells how far the light falls from it.

import { call } from "../api.js";
import { element, heading } from "../table/panel.js";
import { boardForm } from "./board.js";
import { drawFound } from "./preview.js";
import { said } from "./rig.js";

/** @typedef {import("./rig.js").Trouble} Trouble */
/** @typedef {import("./rig.js").MapDetail} MapDetail */
/** @typedef {{turn_deg: number, bands: [number, number][][], misfit_mm: number, verdict: string, words: string[], seen: import("./preview.js").Seen}} Relaid */
/** @typedef {{worst_mm: number, verdict: string, words: string, map: MapDetail}} Told */

/** @param {string} state */
export function verdictWords(state) {
  return { good: "Good to cut by", warn: "Cut nothing fitted by this", "not for cutting": "Not for cutting" }[state] ?? "Not checked yet";
}

/** @param {import("./rig.js").Rig} rig @param {MapDetail} map */
export function boardAgain(rig, map) {
  const { panel, lamp } = rig;
  const board = boardForm(() => undefined);
  /** @type {{canvas: [number, number], black: [number, number, number, number][]} | null} */
  let pattern = null;
  /** @type {{file: Blob, name: string, relaid: Relaid} | null} */
  let first = null;
  /** @type {Trouble | null} */
  let trouble = null;
  let busy = "";
  /** The light alone is wanted: nothing is shown over it. */
  let hidden = false;
  /** @type {() => void} */
  let draw = lay;
  const still = rig.open(() => show());
  show();
  void light();

  async function light() {
    const [width, height] = map.canvas;
    try {
      pattern = await call("GET", `/boards/pattern?width=${width}&height=${height}`);
    } catch (error) {
      trouble = /** @type {Error} */ (error);
    }
    if (still()) show();
  }

  /** @param {() => void} [panelNow] */
  function show(panelNow = draw) {
    draw = panelNow;
    if (!rig.holds(map)) return;
    rig.place(false);
    if (hidden) lightNow();
    else draw();
  }

  function lightNow() {
    if (draw === measure && first) lamp.show({ kind: "outline", bands: first.relaid.bands, map });
    else if (draw === lay && pattern) lamp.show({ kind: "pattern", black: pattern.black });
    else lamp.show({ kind: "dark" });
  }

  function lay() {
    lightNow();
    panel.show("again-lay",
      heading("Lay the board down again"),
      ...said(trouble),
      element("p", {}, "Take the board up and lay it down anew, turned and shifted, in the white place of the lit pattern, flat and wholly in the light. Photograph pattern and board together, as for the map. Then its outline is lit, and a second photograph tells how far the light is off."),
      board.sentence,
      chooser("again-first", "Photograph with the pattern", (file, name) => void look(file, name)),
      status(),
      element("div", { class: "actions" },
        element("button", { id: "again-alone", disabled: busy !== "", click: alone }, "Show the pattern alone"),
        element("button", { click: () => rig.go.known(map) }, "Back")));
  }

  /** @param {Blob} file @param {string} name */
  async function look(file, name) {
    busy = `Looking at ${name} …`;
    trouble = null;
    show(lay);
    try {
      const relaid = /** @type {Relaid} */ (await send("board-again", file, name, {}));
      busy = "";
      first = { file, name, relaid };
      if (!still()) return;
      show(measure);
      document.getElementById("again-second")?.focus();
    } catch (error) {
      busy = "";
      trouble = /** @type {Error} */ (error);
      if (!still()) return;
      show(lay);
      document.getElementById("again-first")?.focus();
    }
  }

  function measure() {
    if (!first) return show(lay);
    const { file, name, relaid } = first;
    lightNow();
    const preview = /** @type {HTMLCanvasElement} */ (element("canvas", { class: "preview", role: "img", "aria-label": `What was found in ${name}` }));
    void drawFound(preview, file, relaid.seen);
    panel.show("again-measure",
      heading("Photograph the lit outline"),
      ...said(trouble),
      element("p", { class: relaid.verdict === "good" ? "" : "wrong" }, relaid.words[relaid.words.length - 1]),
      element("p", {}, "Dark lines are lit in the white margin of the board. Leave the board as it lies. Photograph the whole board with its margin from above; the camera may have moved."),
      element("p", { class: "soft" }, "Stand so that your shadow does not fall on it, and never look into the lens."),
      chooser("again-second", "Photograph with the outline", (chosen, called) => void tell(chosen, called)),
      status(),
      element("figure", {}, preview, element("figcaption", {}, element("strong", {}, name), ...relaid.words.slice(0, -1).map((w) => element("p", {}, w)))),
      element("div", { class: "actions" },
        element("button", { id: "again-alone", disabled: busy !== "", click: alone }, "Show the outline alone"),
        element("button", { disabled: busy !== "", click: () => { first = null; trouble = null; show(lay); } }, "It was moved: begin again"),
        element("button", { click: () => rig.go.known(map) }, "Back")));
  }

  /** @param {Blob} file @param {string} name */
  async function tell(file, name) {
    if (!first) return;
    busy = `Looking at ${name} …`;
    trouble = null;
    show(measure);
    try {
      const found = /** @type {Told} */ (await send("board-again/outline", file, name, { turn_deg: first.relaid.turn_deg }));
      busy = "";
      rig.inUse = map = found.map;
      if (!still()) return;
      show(() => told(found));
      document.getElementById("again-known")?.focus();
    } catch (error) {
      busy = "";
      trouble = /** @type {Error} */ (error);
      if (!still()) return;
      show(measure);
      document.getElementById("again-second")?.focus();
    }
  }

  /** @param {Told} found */
  function told(found) {
    lightNow();
    panel.show("again-told",
      heading(found.verdict === "good" ? "The light falls where it should" : verdictWords(found.verdict)),
      element("p", { class: "figure" }, `${found.worst_mm.toFixed(1)} mm at the worst place`),
      element("p", { role: "status" }, found.words),
      element("p", { class: "soft" }, "The print was the ruler here: if its lengths were measured wrongly, only lines measured by tape tell."),
      element("div", { class: "actions" },
        element("button", { id: "again-known", class: "main", click: () => rig.go.known(map) }, "All that is known of the map"),
        element("button", { click: () => { first = null; show(lay); } }, "Lay it down once more"),
        ...(found.verdict === "good" ? [] : [element("button", { click: () => rig.go.start() }, "Make the map again")])));
  }

  function status() {
    return element("p", { role: "status", "aria-live": "polite" }, busy);
  }

  /** @param {string} id @param {string} label @param {(file: Blob, name: string) => void} chosen */
  function chooser(id, label, chosen) {
    const input = element("input", {
      id, class: "unseen", type: "file", accept: "image/jpeg,image/png,image/webp", capture: "environment", disabled: busy !== "",
      change: (e) => { if (e.target.files[0]) chosen(e.target.files[0], e.target.files[0].name); },
    });
    return element("div", { class: "row" }, input, element("label", { for: id, class: "button" }, label));
  }

  /**
   * @template T
   * @param {string} what
   * @param {Blob} file
   * @param {string} name
   * @param {object} wish
   * @returns {Promise<T>}
   */
  function send(what, file, name, wish) {
    const body = new FormData();
    body.append("photo", file, name);
    body.append("wish", JSON.stringify({ board: board.wire(), ...wish }));
    return call("POST", `/maps/${map.id}/${what}`, body);
  }

  /** Nothing but the light, until a key or the pointer is pressed. */
  function alone() {
    hidden = true;
    panel.close();
    const back = () => {
      removeEventListener("keydown", back);
      removeEventListener("pointerdown", back);
      hidden = false;
      if (still()) show();
    };
    setTimeout(() => {
      addEventListener("keydown", back);
      addEventListener("pointerdown", back);
    }, 0);
  }
}
