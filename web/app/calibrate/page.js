// The calibration page: cautions, crosses and distances (or photographs), check lines, verdict.

import { call } from "../api.js";
import { cautions, cautionsRead, element, heading, keepCautionsRead, makePanel, wrong } from "../table/panel.js";
import { tableMap } from "../table/map.js";
import { settingChanges } from "../table/surface.js";
import { coverageDrawing } from "./coverage.js";
import { crossSet, freeRoom, pairsOf, roomBeside } from "./crosses.js";
import { figures } from "./figures.js";
import { farLamp, lendLamp, ownLamp } from "./lamp.js";
import { byPhotos } from "./photos.js";
import { isPair, mayKeep, nextPair, offWords, withReading } from "./readings.js";

/** @typedef {import("./readings.js").Tried} Tried */
/** @typedef {import("./readings.js").Reading} Reading */
/** @typedef {{id: string, name: string, verdict: string, verdict_text: string, p95_mm: number | null, accuracy: import("./figures.js").Accuracy | null, route: string, created: string, last_checked: string | null, canvas: [number, number], dpr: number, screen: string, projector_from_table: number[][], lens: import("../table/map.js").Lens | null, words: string[], checks: {line: string, label: string, nominal_mm: number, measured_mm: number, words: string, verdict: string, when: string}[]}} MapDetail */
/** @typedef {{id: string, label: string, nominal_mm: number, from: [number, number], to: [number, number], needed: boolean}} CheckLine */

const KEPT = "grainfold.readings";
const UNIT = "grainfold.tape-unit";

const role = new URLSearchParams(location.search).get("window") ?? "both";
const box = at("panel");
const panel = makePanel(box);
const canvas = /** @type {HTMLCanvasElement} */ (at("crosses"));

/** @type {import("./lamp.js").Lamp} */
let lamp;
/** @type {"corners" | "grid"} */
let kind = "corners";
/** @type {Reading[]} */
let readings = [];
/** @type {import("../table/surface.js").ScreenSetting | null} */
let made = null;
/** @type {Tried | null} */
let tried = null;
/** @type {{message: string, hint?: string} | null} */
let trouble = null;
let unit = localStorage.getItem(UNIT) ?? "cm";
/** @type {MapDetail | null} */
let map = null;
/** @type {CheckLine[]} */
let lines = [];
/** @type {() => void} */
let redraw = () => undefined;

if (role === "light") {
  document.body.classList.add("projecting");
  document.title = "Crosses: grainfold";
  lendLamp(at("light"), canvas);
  addEventListener("keydown", (event) => {
    if (event.key === "f" || event.key === "F") fill();
  });
  panel.show("light", heading("The light for the calibration"), element("p", {}, "Bring this window to the projector and fill its screen. The typing is done in the other window."),
    element("div", { class: "actions" }, element("button", { class: "main", click: () => { fill(); panel.close(); } }, "Fill the screen")));
} else {
  lamp = role === "desk" ? farLamp(() => redraw()) : ownLamp(at("light"), canvas, () => redraw());
  if (cautionsRead()) void start();
  else panel.show("cautions", ...cautions(() => {
    keepCautionsRead();
    void start();
  }));
}

async function start() {
  redraw = start;
  place(false);
  const setting = lamp.setting();
  /** @type {MapDetail | null} */
  let current = null;
  try {
    const { maps } = /** @type {{maps: MapDetail[]}} */ (await call("GET", "/maps"));
    current = maps[0] ?? null;
  } catch (error) {
    trouble = /** @type {Error} */ (error);
  }
  const same = current && setting && settingChanges(current, setting).length === 0;
  panel.show("start",
    heading("True size on the table"),
    ...said(),
    element("p", {}, "Crosses are lit; you measure between them with a tape and type what you read. Or a camera sees a printed board lying in the light. Nothing is dragged into place."),
    element("ol", {},
      element("li", {}, "Fix the projector; switch its keystone correction and digital zoom off, for they blur the picture."),
      element("li", {}, "Lay flat on the table what you will cut on, and focus."),
      element("li", {}, "Fill the projector's screen. A thin line must be seen on all four sides of the picture."),
      element("li", {}, "A stiff tape or a rule; read to half a millimetre, or a 32nd of an inch.")),
    pictureWords(setting),
    ...(role === "desk" && !setting ? [element("p", {}, element("a", { href: "/calibrate?window=light", target: "grainfold-light" }, "Open the window for the projector"))] : []),
    element("div", { class: "actions" },
      ...(role === "both" ? [element("button", { click: fill }, document.fullscreenElement ? "Leave full screen" : "Fill the screen")] : []),
      element("button", { class: "main", disabled: !setting, click: () => begin("corners") }, "Four crosses, six distances"),
      element("button", { disabled: !setting, click: () => begin("grid") }, "Nine crosses, for a truer map"),
      element("button", { disabled: !setting, click: photographs }, "By photographs of a printed board"),
      ...(same && current ? [element("button", { click: () => void check(/** @type {MapDetail} */ (current)) }, "Only check the map in use"),
        element("button", { click: () => void check(/** @type {MapDetail} */ (current), true) }, "How true the map in use is")] : []),
      ...(role === "both" ? [element("a", { class: "button", href: "/calibrate?window=desk" }, "Type in this window, light in another")] : []),
      element("a", { class: "button", href: "/" }, "To the desk")));
  lamp.show(setting ? { kind: "crosses", set: crossSet("corners", setting.canvas), pair: null } : { kind: "dark" });
}

/** @param {"corners" | "grid"} which */
function begin(which) {
  made = lamp.setting();
  if (!made) return;
  kind = which;
  readings = kept(which);
  tried = null;
  void measure(true);
}

function photographs() {
  made = lamp.setting();
  if (!made) return;
  const begun = made;
  let away = false;
  place(false);
  const again = byPhotos({ panel, lamp, made, back: () => void start(), done: (found) => void check(found) });
  redraw = () => {
    const now = lamp.setting();
    const changes = now ? settingChanges(begun, now) : [];
    if (changes.length) changed(changes);
    else if (away) again();
    away = changes.length > 0;
  };
}

/** Ask for one distance after another. @param {boolean} [fresh]  the readings changed */
async function measure(fresh = false) {
  redraw = () => void measure();
  const now = lamp.setting();
  if (!made || !now) return start();
  const changes = settingChanges(made, now);
  if (changes.length) return changed(changes);
  if (fresh) await tryReadings();
  const set = crossSet(kind, made.canvas);
  const pair = nextPair(kind, readings, tried);
  lamp.show({ kind: "crosses", set, pair });
  place(true);
  const again = pair && readings.some((r) => isPair(r, pair));
  const left = pairsOf(kind).length - readings.length;
  panel.show("measure",
    heading(pair ? `Measure ${pair[0]} to ${pair[1]}${again ? " again" : ""}` : "All distances are measured"),
    ...said(),
    ...(pair ? [askFor(pair)] : []),
    ...(tried?.words.length ? [element("p", { role: "status" }, tried.words.join(" "))] : []),
    ...(mayKeep(tried) ? [element("p", {}, `By these distances the lines will be true to about ${tenths(tried?.p95_mm)} mm.`)] : []),
    element("div", { class: "actions" },
      element("button", { class: mayKeep(tried) ? "main" : "", disabled: !mayKeep(tried), click: () => void keep() }, "Keep, and check"),
      element("span", { class: "soft" }, left > 0 ? `${readings.length} measured, ${left} to go${mayKeep(tried) ? "; more make it truer" : ""}` : `${readings.length} measured`)),
    ...(readings.length ? [readingTable()] : []),
    element("div", { class: "actions" }, element("button", { click: () => void start() }, "Back")));
  const field = document.getElementById("reading");
  if (field) field.focus();
}

/** @param {[string, string]} pair */
function askFor(pair) {
  const input = /** @type {HTMLInputElement} */ (element("input", { id: "reading", inputmode: "text", autocomplete: "off", spellcheck: "false", size: "10", placeholder: unit === "in" ? "47 3/8" : unit === "cm" ? "120.35" : "1203.5" }));
  const send = () => {
    if (input.value.trim() === "") return;
    // Until the next distance is asked for, nothing more can be typed for this one.
    input.disabled = true;
    void take(pair, input.value);
  };
  return element("form", { class: "row", submit: (e) => { e.preventDefault(); send(); } },
    element("label", { for: "reading" }, "From middle to middle"),
    input, unitChoice(), element("button", { class: "main" }, "Next"));
}

function unitChoice() {
  return element("select", { "aria-label": "Unit of bare numbers", id: "unit", change: (e) => { unit = e.target.value; localStorage.setItem(UNIT, unit); redraw(); } },
    ...[["cm", "cm"], ["mm", "mm"], ["in", "inches"]].map(([v, label]) => element("option", { value: v, selected: v === unit }, label)));
}

/** @param {[string, string]} pair @param {string} typed */
async function take(pair, typed) {
  if (typed.trim() === "") return;
  const before = readings;
  // A bare number takes the unit chosen now, and keeps it when another is chosen later.
  const text = /[a-z"'″]/i.test(typed) ? typed : `${typed.trim()} ${unit}`;
  readings = withReading(readings, pair, text);
  await tryReadings();
  if (trouble) readings = before;
  else localStorage.setItem(KEPT, JSON.stringify({ kind, made, readings }));
  await measure();
}

async function tryReadings() {
  trouble = null;
  try {
    tried = readings.length ? await call("POST", "/maps/try", request()) : null;
  } catch (error) {
    trouble = /** @type {Error} */ (error);
  }
}

function request() {
  const setting = /** @type {import("../table/surface.js").ScreenSetting} */ (made);
  const set = crossSet(kind, setting.canvas);
  return {
    canvas: setting.canvas, crosses: set.crosses, origin: set.origin, along: set.along,
    distances: readings.map((r) => ({ from: r.from, to: r.to, mm: r.typed })),
  };
}

function readingTable() {
  const rows = readings.map((reading) => {
    const found = tried?.residuals.find((r) => isPair(reading, [r.from, r.to]));
    const input = element("input", {
      value: reading.typed, "aria-label": `${reading.from} to ${reading.to}`, autocomplete: "off", spellcheck: "false",
      change: (e) => void take([reading.from, reading.to], e.target.value),
    });
    return element("tr", { class: found?.odd ? "odd" : "" },
      element("th", { scope: "row" }, `${reading.from} to ${reading.to}`),
      element("td", {}, input),
      element("td", {}, found ? `${offWords(found.off_mm)}${found.odd ? ": measure again" : ""}` : ""));
  });
  return element("table", { class: "readings" },
    element("thead", {}, element("tr", {}, ...["Distance", "Read", "Against the others"].map((t) => element("th", { scope: "col" }, t)))),
    element("tbody", {}, ...rows));
}

async function keep() {
  trouble = null;
  try {
    map = await call("POST", "/maps", { ...request(), name: "table, by tape", dpr: made?.dpr, screen: made?.screen });
    localStorage.removeItem(KEPT);
    await check(/** @type {MapDetail} */ (map));
  } catch (error) {
    trouble = /** @type {Error} */ (error);
    await measure();
  }
}

/** Light known lengths and take what they measure. @param {MapDetail} which @param {boolean} [told]  only what is known already */
async function check(which, told = false) {
  map = which;
  made = lamp.setting();
  try {
    lines = (await call("GET", `/maps/${map.id}/check-lines`)).lines;
  } catch (error) {
    trouble = /** @type {Error} */ (error);
    return start();
  }
  if (told) verdict([]);
  else checkNext(lines.filter((l) => l.needed), 0);
}

/** @param {CheckLine[]} todo @param {number} index */
function checkNext(todo, index) {
  redraw = () => checkNext(todo, index);
  const now = lamp.setting();
  if (!map || !now) return void start();
  const changes = settingChanges(map, now);
  if (changes.length) return changed(changes);
  const line = todo[index];
  if (!line) return verdict(todo);
  lamp.show({ kind: "line", line, map });
  const lit = tableMap(map);
  place(true, roomBeside(lit.toCanvas(line.from), lit.toCanvas(line.to), map.canvas));
  const input = /** @type {HTMLInputElement} */ (element("input", { id: "reading", autocomplete: "off", spellcheck: "false", size: "10" }));
  const shown = map;
  const send = async () => {
    trouble = null;
    input.disabled = true;
    try {
      map = await call("POST", `/maps/${shown.id}/checks`, { line: line.id, measured: input.value, unit });
      checkNext(todo, index + 1);
    } catch (error) {
      trouble = /** @type {Error} */ (error);
      checkNext(todo, index);
    }
  };
  panel.show(`check-${index}`,
    heading(`Check line: ${line.label}`),
    ...said(),
    element("p", {}, `${index + 1} of ${todo.length}. Between the outer sides of its ends. Type what the tape says, not what it should say.`),
    element("form", { class: "row", submit: (e) => { e.preventDefault(); if (input.value.trim()) void send(); } },
      element("label", { for: "reading" }, "It measures"), input, unitChoice(), element("button", { class: "main" }, "Next")),
    element("div", { class: "actions" }, element("button", { click: () => checkNext(todo, index + 1) }, "Skip this one"), element("button", { click: () => void start() }, "Back")));
  input.focus();
}

/** @param {CheckLine[]} done */
function verdict(done) {
  redraw = () => verdict(done);
  if (!map) return void start();
  const now = lamp.setting();
  const changes = now ? settingChanges(map, now) : [];
  if (changes.length) return changed(changes);
  const more = lines.filter((l) => !l.needed && !done.includes(l));
  lamp.show({ kind: "dark" });
  place(false);
  const words = { good: "Good to cut by", warn: "Cut nothing fitted by this", "not for cutting": "Not for cutting", unchecked: "Not checked yet" };
  panel.show("verdict",
    heading(words[/** @type {keyof typeof words} */ (map.verdict)]),
    ...said(),
    element("p", {}, map.verdict_text),
    element("ul", {}, ...map.checks.map((c) => element("li", {}, `${c.label}: ${c.words}`))),
    ...map.words.map((w) => element("p", { class: "soft" }, w)),
    element("dl", { class: "keys" }, ...figures(map).flatMap(([what, known]) => [element("dt", {}, what), element("dd", {}, known)])),
    ...tiePart(),
    clothPart(),
    element("p", { class: "soft" }, "This holds for this picture size, zoom and screen, as long as projector and table stay where they are. Check again when either was touched."),
    element("div", { class: "actions" },
      ...(map.verdict === "unchecked" ? [element("button", { class: "main", click: () => checkNext(lines.filter((l) => l.needed), 0) }, "Measure the lines")] : []),
      ...(more.length ? [element("button", { click: () => checkNext([...more], 0) }, `Check ${more.length} more lines`)] : []),
      element("button", { class: map.verdict === "good" || map.verdict === "unchecked" ? "" : "main", click: () => void start() }, "Calibrate again"),
      element("button", { id: "coverage", click: () => void places(done) }, "Where it is good to cut by"),
      element("a", { class: map.verdict === "good" ? "button main" : "button", href: "/table" }, "To the table")));
}

/** How true the map is place by place: drawn, and lit on the table when asked. @param {CheckLine[]} done */
async function places(done) {
  const shown = map;
  if (!shown) return void start();
  /** @type {import("./coverage.js").Coverage} */
  let found;
  try {
    found = await call("GET", `/maps/${shown.id}/coverage`);
  } catch (error) {
    trouble = /** @type {Error} */ (error);
    return verdict(done);
  }
  if (map !== shown || panel.name !== "verdict") return;
  const drawing = () => {
    redraw = drawing;
    lamp.show({ kind: "dark" });
    place(false);
    panel.show("places",
      heading("Where it is good to cut by"),
      element("p", {}, found.words),
      coverageDrawing(found),
      element("p", { class: "soft" }, "The light from above, your side below. Heavy line: the rim of what is good to cut by. Dashed: lines of equal error. Slanted lines: farther than half the sheet's reach beyond it, or off by more than the limit; do not cut there. Dotted: where the sheet lay."),
      element("div", { class: "actions" },
        element("button", { class: "main", click: () => verdict(done) }, "Back"),
        element("button", { id: "light-coverage", click: lit }, "Light it on the table")));
  };
  const lit = () => {
    redraw = lit;
    lamp.show({ kind: "coverage", coverage: found, map: shown });
    const [w, h] = shown.canvas;
    place(true, [0.02 * w, 0.02 * h, 0.3 * w, 0.3 * h]);
    panel.show("places-lit", heading("Lit on the table"), element("div", { class: "actions" }, element("button", { class: "main", click: drawing }, "Back")));
  };
  drawing();
}

/** What was typed of the cloth, kept while it is refused. */
const CLOTH = { thickness: "", plies: "1", height: "", along: "", across: "" };
let clothTyped = CLOTH;

/** Make another map of this one, and check that. @param {string} what @param {object} wish */
async function remake(what, wish) {
  if (!map) return;
  try {
    map = await call("POST", `/maps/${map.id}/${what}`, wish);
    lines = (await call("GET", `/maps/${map?.id}/check-lines`)).lines;
    trouble = null;
    clothTyped = CLOTH;
    checkNext(lines.filter((l) => l.needed), 0);
  } catch (error) {
    trouble = /** @type {Error} */ (error);
    redraw();
  }
}

/** The longest line that was measured can give the scale, where it was a little off. */
function tiePart() {
  const far = map?.checks.filter((c) => Math.abs(c.measured_mm - c.nominal_mm) >= 0.1).sort((a, b) => b.nominal_mm - a.nominal_mm)[0];
  if (!map || !far) return [];
  const { line, measured_mm } = far;
  return [element("p", {}, `Read the same twice? The scale can be taken from it. `,
    element("button", { id: "tie-scale", class: "small", click: () => void remake("tied", { line, measured: `${measured_mm} mm`, unit: "mm" }) }, `Take the scale from ${far.label}`))];
}

/** Cloth that lies higher than what was measured on. */
function clothPart() {
  /** @param {keyof typeof CLOTH} name @param {string} label */
  const field = (name, label) => /** @type {HTMLInputElement} */ (element("input", { id: `cloth-${name}`, "aria-label": label, value: clothTyped[name], size: "7", autocomplete: "off", spellcheck: "false" }));
  const [thickness, plies, height, along, across] = [
    field("thickness", "Thickness of one ply"), field("plies", "How many plies"), field("height", "Height of the lens over the table"),
    field("along", "Point under the lens, to the right of the near left corner of the light"), field("across", "Point under the lens, away from you from that corner")];
  const units = /** @type {HTMLSelectElement} */ (element("select", { id: "cloth-unit", "aria-label": "Unit of bare numbers" },
    ...[["mm", "mm"], ["cm", "cm"], ["in", "inches"]].map(([v, label]) => element("option", { value: v }, label))));
  return element("details", { open: clothTyped !== CLOTH }, element("summary", {}, "The cloth lies higher than what was measured on"),
    element("p", { class: "soft" }, "Best is to measure on the cloth itself. Otherwise light aimed at the table falls short on thick cloth, the more the farther from below the lens. Hang a weight on a thread from the lens to find the point under it, and measure by tape. Never lean over a ladder for it."),
    element("form", { submit: (e) => {
        e.preventDefault();
        clothTyped = { thickness: thickness.value, plies: plies.value, height: height.value, along: along.value, across: across.value };
        void remake("on-cloth", { ...clothTyped, plies: Number(plies.value) || 1, unit: units.value });
      } },
      element("p", { class: "sentence" }, "One ply is ", thickness, " thick, there are ", plies, " of them; the lens is ", height, " above the table, over the point ", along, " to the right of the light's near left corner and ", across, " away from you."),
      element("p", {}, "Bare numbers are ", units, ". ", element("button", { id: "cloth-raise" }, "Make the map for the cloth"))));
}

/** @param {string[]} changes */
function changed(changes) {
  place(false);
  lamp.show({ kind: "dark" });
  panel.show("changed", heading("The picture has changed"),
    wrong({ message: `Not calibrated for this picture: ${changes.join("; ")}.`, hint: "Go back to the picture it was begun with (F fills the screen), or start again." }),
    element("div", { class: "actions" },
      ...(role === "both" ? [element("button", { class: "main", click: fill }, "Fill the screen")] : []),
      element("button", { click: () => { localStorage.removeItem(KEPT); void start(); } }, "Start again")));
}

/**
 * Put the panel where it covers nothing lit, or in the middle.
 * @param {boolean} beside
 * @param {[number, number, number, number]} [room] canvas px
 */
function place(beside, room) {
  const setting = lamp.setting();
  const style = box.style;
  box.classList.toggle("beside", beside && role === "both");
  if (!beside || role !== "both" || !setting) {
    for (const name of ["left", "top", "width", "height", "max-height"]) style.removeProperty(name);
    return;
  }
  const [x, y, w, h] = (room ?? freeRoom(crossSet(kind, setting.canvas), setting.canvas)).map((v) => v / setting.dpr);
  style.left = `${x}px`;
  style.top = `${y}px`;
  style.width = `min(${w}px, 31em)`;
  style.height = "fit-content";
  style.maxHeight = `${h}px`;
}

/** @param {import("../table/surface.js").ScreenSetting | null} setting */
function pictureWords(setting) {
  if (!setting) return element("p", { role: "status" }, "No light is there yet.");
  return element("p", { role: "status" }, `The picture is ${setting.canvas.join(" x ")} px. It should be the projector's own number of pixels: see its data sheet.`);
}

function said() {
  const now = trouble ? [wrong(trouble)] : [];
  trouble = null;
  return now;
}

function fill() {
  if (document.fullscreenElement) void document.exitFullscreen();
  else document.documentElement.requestFullscreen().catch(() => undefined);
}

/** Readings of before a reload, if the picture is still the same. @param {"corners" | "grid"} which @returns {Reading[]} */
function kept(which) {
  try {
    const found = JSON.parse(localStorage.getItem(KEPT) ?? "null");
    const setting = lamp.setting();
    return found && setting && found.kind === which && settingChanges(found.made, setting).length === 0 ? found.readings : [];
  } catch {
    return [];
  }
}

/** @param {number | null | undefined} mm */
function tenths(mm) {
  return (mm ?? 0).toFixed(1);
}

/** @param {string} id */
function at(id) {
  return /** @type {HTMLElement} */ (document.getElementById(id));
}
