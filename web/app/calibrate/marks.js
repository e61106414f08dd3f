// The quick look when something may have been bumped: four marks, lit where they were chalked.

import { call } from "../api.js";
import { element, heading } from "../table/panel.js";
import { verdictWords } from "./again.js";
import { freeRoom } from "./crosses.js";
import { noRoom, said } from "./rig.js";
import { tapeUnit, unitChoice } from "./unit.js";

/** @typedef {import("./rig.js").MapDetail} MapDetail */
/** @typedef {{made: string | null, marks: {name: string, canvas: [number, number], at: [number, number]}[]}} Marks */
/** @typedef {{verdict: string, words: string, map: MapDetail}} Found */
/** @typedef {Record<string, {right: string, away: string}>} Typed */

const WHERE = ["near left", "near right", "far right", "far left"];
const NOWHERE = { right: "", away: "" };
const SETTLED = "Something was bumped: projector, table, or the arm that holds them.";

/** @param {import("./rig.js").Rig} rig @param {MapDetail} map */
export async function quickLook(rig, map) {
  const { panel, lamp } = rig;
  /** @type {Typed} */
  let typed = {};
  /** The mark that contradicted the others when it was read last. */
  let odd = "";
  /** @type {import("./rig.js").Trouble | null} */
  let trouble = null;
  let off = false;
  const asked = rig.turn();
  /** @type {Marks} */
  let marks;
  try {
    marks = await call("GET", `/maps/${map.id}/marks`);
  } catch (error) {
    if (asked()) rig.go.start(/** @type {Error} */ (error));
    return;
  }
  if (!asked()) return;
  /** @type {() => void} */
  let draw = marks.made ? look : make;
  const still = rig.open(() => show());
  show();

  /** @param {() => void} [panelNow] */
  function show(panelNow = draw) {
    draw = panelNow;
    if (rig.holds(map)) draw();
  }

  /** Light the marks and put the panel between them; what is to be said when there is no room. */
  function light() {
    const crosses = Object.fromEntries(marks.marks.map((m) => [m.name, m.canvas]));
    /** @type {import("./crosses.js").CrossSet} */
    const set = { kind: "corners", crosses, origin: "A", along: "B" };
    lamp.show({ kind: "crosses", set, pair: null });
    return rig.place(true, () => freeRoom(set, map.canvas)) ? [] : [noRoom()];
  }

  function make() {
    const room = light();
    panel.show("marks-make",
      heading("Four marks for a quick look"),
      ...room,
      ...said(trouble),
      element("p", {}, "Four crosses are lit near the corners. Chalk or tape a cross on the table under each, middle on middle. When something may have been bumped, a look at them tells in ten seconds."),
      element("p", { class: "soft" }, "Reach in with your back to the lens, never look into it, and mind the cable."),
      element("div", { class: "actions" },
        element("button", { id: "marks-made", class: "main", click: () => void made() }, "They are marked"),
        element("button", { click: () => rig.go.known(map) }, "Back")));
  }

  async function made() {
    try {
      marks = await call("POST", `/maps/${map.id}/marks`);
      rig.inUse = map = { ...map, marks_made: marks.made };
      if (still()) rig.go.known(map);
    } catch (error) {
      trouble = /** @type {Error} */ (error);
      if (still()) show(make);
    }
  }

  function look() {
    const room = light();
    panel.show("marks",
      heading("Are the four marks on?"),
      ...room,
      ...said(trouble),
      ...(off ? [] : [element("p", {}, "Each lit cross should lie on its chalk, middle on middle. If one lies beside it, say so and type by how much.")]),
      ...(off ? [offsets()] : []),
      element("div", { class: "actions" },
        ...(off ? [element("button", { id: "marks-tell", class: "main", click: () => void tell(false) }, "Tell what it means")]
          : [element("button", { id: "marks-on", class: "main", click: () => void tell(true) }, "All four are on"),
            element("button", { id: "marks-off", click: () => { off = true; show(look); document.getElementById("mark-A-right")?.focus(); } }, "Not on")]),
        element("button", { click: () => { trouble = null; show(make); } }, "Mark them anew"),
        element("button", { click: () => rig.go.known(map) }, "Back")));
  }

  function offsets() {
    /** @param {string} name @param {"right" | "away"} way @param {string} label */
    const field = (name, way, label) => element("input", {
      id: `mark-${name}-${way}`, "aria-label": label, value: typed[name]?.[way] ?? "", placeholder: "0", size: "5", autocomplete: "off", spellcheck: "false",
      input: (e) => { typed = { ...typed, [name]: { ...(typed[name] ?? NOWHERE), [way]: e.target.value.trim() } }; },
    });
    const rows = marks.marks.map(({ name }, i) => element("tr", { class: name === odd ? "odd" : "" },
      element("th", { scope: "row" }, `${name}, ${WHERE[i]}`),
      element("td", {}, field(name, "right", `Mark ${name}: the chalk lies so far to the right of its light`)),
      element("td", {}, field(name, "away", `Mark ${name}: the chalk lies so far away from you, from its light`))));
    return element("form", { submit: (e) => { e.preventDefault(); void tell(false); } },
      element("p", {}, "Where the ", element("strong", {}, "chalk"), " lies from its light. A minus: to the left, or towards you. Bare numbers are ",
        unitChoice(undefined, "marks-unit"), "."),
      element("table", { class: "marks" },
        element("thead", {}, element("tr", {}, ...["Mark", "To the right", "Away from you"].map((t) => element("th", { scope: "col" }, t)))),
        element("tbody", {}, ...rows)),
      // Enter sends what is typed.
      element("button", { class: "unseen", tabindex: "-1" }, "Tell what it means"));
  }

  /** @param {boolean} on */
  async function tell(on) {
    const offsets = on ? [] : Object.entries(typed).filter(([, o]) => o.right || o.away).map(([mark, o]) => ({ mark, right: o.right || "0", away: o.away || "0" }));
    try {
      const found = /** @type {Found} */ (await call("POST", `/maps/${map.id}/marks/check`, { offsets, unit: tapeUnit(), looked_twice: odd !== "" }));
      rig.inUse = map = found.map;
      trouble = null;
      if (still()) show(() => tells(found));
    } catch (error) {
      const refusal = /** @type {import("../api.js").ApiError} */ (error);
      odd = refusal.code === "marks.odd" ? refusal.where : "";
      trouble = refusal;
      if (!still()) return;
      show(look);
      if (odd) document.getElementById(`mark-${odd}-right`)?.focus();
    }
  }

  /** @param {Found} found */
  function tells(found) {
    const good = found.verdict === "good";
    const room = good ? [] : light();
    if (good) {
      lamp.show({ kind: "dark" });
      rig.place(false);
    }
    panel.show("marks-told",
      heading(good ? "The marks are on" : verdictWords(found.verdict)),
      ...room,
      ...(good ? [] : [element("p", { class: "soft" }, SETTLED)]),
      element("p", { role: "status" }, found.words),
      element("div", { class: "actions" },
        ...(good ? [element("a", { id: "marks-table", class: "button main", href: "/table" }, "To the table"), element("button", { click: () => rig.go.known(map) }, "All that is known of the map")]
          : [element("button", { id: "marks-again", class: "main", click: () => { odd = ""; typed = {}; off = false; show(look); } }, "Look again"),
            element("button", { click: () => rig.go.start() }, "Make the map again"), element("button", { click: () => rig.go.known(map) }, "All that is known of the map")])));
  }
}
