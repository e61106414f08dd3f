// The table view: fetches a projection once, lights it, and listens to keys. Measures nothing itself.

import { call } from "../api.js";
import { NO_WISH, SECONDS, againPanel, flawOutline, laidAgainPanel, typedWish } from "./again.js";
import { clothPanel } from "./cloth.js";
import { LIGHTS } from "./contrast.js";
import { baseItems, frontItems, spoken, wordItems } from "./draw.js";
import { makeSheet } from "./light.js";
import { tableMap } from "./map.js";
import { measurer } from "./paint.js";
import { cautions, cautionsRead, element, heading, keepCautionsRead, makePanel, wrong } from "./panel.js";
import { WIDTHS_MM, palette, readPrefs } from "./prefs.js";
import { ledgerPanel } from "./ledger.js";
import { asItLies, crossPlaces, registrationPanel } from "./registration.js";
import { followCutting, getCutting } from "./session.js";
import { keysPanel, settingsPanel } from "./settings.js";
import { START, commandOf, currentStop, step, stops } from "./steps.js";
import { screenSetting, settingChanges, watchSize } from "./surface.js";

/** @typedef {import("./scene.js").Projection} Projection */
/** @typedef {{verdict: string, verdict_text: string, id: string, canvas: [number, number], dpr: number, screen: string, projector_from_table: number[][], lens: import("./map.js").Lens | null}} MapDetail */

const query = new URLSearchParams(location.search);
const lay = query.get("lay") ?? "";
const cloth = query.get("cloth") ?? "shell";
const PREFS = "grainfold.light";

/** How often the service is asked whether it is still there, ms. */
const ASK_EVERY = 4000;

const light = at("light");
const panel = makePanel(at("panel"));
const base = makeSheet(/** @type {HTMLCanvasElement} */ (at("base")), true);
const front = makeSheet(/** @type {HTMLCanvasElement} */ (at("front")), false);
const words = makeSheet(/** @type {HTMLCanvasElement} */ (at("words")), false);
const measure = measurer(words.ctx);

/** @type {(Projection & {map: MapDetail, style: string, layout: string}) | null} */
let projection = null;
/** @type {import("./map.js").TableMap | null} */
let map = null;
/** @type {[number, number]} */
let size = [0, 0];
/** @type {import("./draw.js").CheckLine[]} */
let checkLines = [];
/** @type {ReturnType<typeof followCutting> | null} */
let session = null;
/** @type {{message: string, hint?: string} | null} */
let markRefused = null;
/** What is typed in the panel for things gone wrong. */
let wish = NO_WISH;
let laying = false;
/** The layout was changed, and the new one has not come yet. */
let behind = false;
/** What a hand-held page asked for last, as text; "" before the first state came. */
let lookSeen = "";
/** @type {import("./draw.js").State} */
let state = {
  walk: START,
  prefs: readPrefs(localStorage.getItem(PREFS)),
  refusal: [],
  warning: "",
  lost: false,
  check: null,
  strip: false,
  cut: [],
  gaps: "",
  registered: [],
  measured: null,
  flaws: [],
  holes: [],
};

watchSize(light, (found) => {
  size = found;
  show();
});
addEventListener("keydown", onKey);
document.addEventListener("fullscreenchange", show);
document.addEventListener("visibilitychange", () => void keepAwake());
pointing();
if (cautionsRead()) void begin();
else panel.show("cautions", ...cautions(() => {
  keepCautionsRead();
  panel.close();
  void begin();
}));
setInterval(() => void askService(), ASK_EVERY);

async function begin() {
  if (!lay) return chooseLay();
  try {
    projection = await call("GET", `/lays/${encodeURIComponent(lay)}/projection?cloth=${encodeURIComponent(cloth)}`);
    if (!projection) return;
    checkLines = (await call("GET", `/maps/${projection.map.id}/check-lines`)).lines;
    map = tableMap(projection.map);
    document.body.classList.add("projecting");
    document.title = `${projection.style}, ${cloth}: grainfold table`;
    const cutting = await getCutting(lay, cloth);
    session = followCutting(lay, cloth, cutting, { changed: stand, refusedMove: refuse, refusedMark });
    void keepAwake();
    stand(cutting);
  } catch (error) {
    notBegun(/** @type {import("../api.js").ApiError} */ (error));
  }
}

/** Stand where the cutting stands, whichever page moved it. @param {import("./session.js").Cutting} cutting */
function stand(cutting) {
  if (!projection) return;
  follow(cutting.look);
  // A place of another map's windows means nothing here: begin with the guides.
  const fits = cutting.walk.window < projection.windows.length && cutting.walk.stop < stops(projection).length;
  if (cutting.layout !== projection.layout) {
    void takeOver();
    return;
  }
  state = { ...state, walk: fits ? cutting.walk : START, cut: cutting.cut, gaps: cutting.gaps_text, measured: cutting.measured, flaws: cutting.flaws, holes: cutting.holes, registered: cutting.registered.filter((r) => r.map_id === projection?.map.id) };
  show();
  if (panel.name === "ledger") openLedger();
  if (panel.name === "again") openAgain(null);
}

/** The layout is another one: fetch it and stand where its cutting stands. */
async function takeOver() {
  if (behind || !session) return;
  behind = true;
  try {
    projection = await call("GET", `/lays/${encodeURIComponent(lay)}/projection?cloth=${encodeURIComponent(cloth)}&map=${projection?.map.id}`);
  } catch (error) {
    refuse({ .../** @type {import("../api.js").ApiError} */ (error), code: "layout_changed", message: "The layout was changed, and the new one cannot be shown." });
    return;
  } finally {
    behind = false;
  }
  const { now } = session;
  if (now.layout !== projection?.layout) {
    refuse({ code: "layout_changed", message: "The layout was changed on another page.", hint: "Open the table view again, and look it through." });
    return;
  }
  state = { ...state, check: null, strip: false };
  stand(now);
  if (now.cut.length || now.walk.approved) panel.show("laid", ...laidAgainPanel(now, projection.pieces, panel.close));
  else refuse({ code: "other_layout", message: "The layout was changed on another page.", hint: "Look the new one through." });
  document.getElementById("laid-on")?.focus();
}

/** Light as a hand-held page asked for, once for each time it asked. @param {import("./session.js").Cutting["look"]} look */
function follow(look) {
  const asked = JSON.stringify(look);
  if (asked === lookSeen) return;
  const first = lookSeen === "";
  lookSeen = asked;
  if (first) return;
  /** @type {Partial<import("./prefs.js").Prefs>} */
  const change = {};
  if (look.width_mm !== null && WIDTHS_MM.includes(look.width_mm)) change.width_mm = look.width_mm;
  if (look.light !== null && LIGHTS.some((l) => l.name === look.light)) change.light = look.light;
  if (look.turned !== null) change.turned = look.turned;
  state = { ...state, prefs: { ...state.prefs, ...change } };
  localStorage.setItem(PREFS, JSON.stringify(state.prefs));
}

/** @param {{code?: string, message: string, hint?: string}} why */
function refuse(why) {
  const changed = why.code === "layout_changed";
  if (changed && behind) return;
  panel.show("refused", heading(changed || why.code === "other_layout" ? "The layout is another one now" : "Not yet"), wrong(why),
    element("div", { class: "actions" }, changed
      ? element("button", { class: "main", click: () => location.reload() }, "Open again")
      : element("button", { class: "main", click: panel.close }, "Close")));
}

/** @param {{message: string, hint?: string}} why */
function refusedMark(why) {
  markRefused = why;
  openLedger();
}

/** Light what has changed. */
function show() {
  if (!projection || !map || size[0] === 0) return;
  const shown = projection;
  const [refusal, warning] = trust(projection.map);
  state = { ...state, refusal, warning };
  const { walk, prefs } = state;
  const colours = palette(prefs);
  const pens = { map, measure };
  const lies = state.registered.find((r) => r.window === walk.window);
  const whole = [size, shown.map.id, shown.layout, prefs, refusal, state.check?.id, state.strip, lies];
  const key = (/** @type {unknown[]} */ ...more) => JSON.stringify([...whole, ...more]);
  base.draw(key(walk.view, walk.window, walk.approved, guided(shown), state.cut, state.flaws, state.holes.length), size, colours, map, () => baseItems(shown, state, pens));
  front.draw(key(walk.view, walk.window, walk.stop, state.cut), size, colours, map, () => frontItems(shown, state, pens));
  words.draw(key(walk, warning, state.lost, state.gaps, state.measured), size, colours, map, () => wordItems(shown, state, pens));
  const said = at("said");
  const now = spoken(shown, state);
  if (said.textContent !== now) said.textContent = now;
}

/** Does the present stop light the guides instead of the pieces? @param {Projection} shown */
function guided(shown) {
  const kind = currentStop(state.walk, shown)?.kind;
  return kind === "spread" || kind === "along";
}

/**
 * May this light be cut by? Reasons why not, and a warning.
 * @param {MapDetail} detail
 * @returns {[string[], string]}
 */
function trust(detail) {
  const changes = settingChanges(detail, screenSetting(size));
  if (changes.length) return [["Not calibrated for this picture:", ...changes, document.fullscreenElement ? "Calibrate again." : "F: fill the screen. If that does not help, calibrate again."], ""];
  if (detail.verdict === "not for cutting") return [[detail.verdict_text], ""];
  if (detail.verdict === "warn") return [[], `Warning: ${detail.verdict_text}`];
  if (detail.verdict === "unchecked") return [[], "Unchecked: light the check lines (C) and measure them before you cut."];
  return [[], ""];
}

/** @param {KeyboardEvent} event */
function onKey(event) {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.key === "Escape") return escape(event);
  const typing = event.target instanceof HTMLElement && event.target.closest("input, select, textarea, button, a");
  if (panel.name && (typing || !["m", "M", "k", "K", "?"].includes(event.key))) return;
  if (!projection) return;
  const command = commandOf(event, state.walk.view);
  if (command && !panel.name) {
    event.preventDefault();
    if (state.check || state.strip) state = { ...state, check: null, strip: false };
    else go(command);
    show();
    return;
  }
  const act = OTHER_KEYS[event.key.toLowerCase()];
  if (!act) return;
  event.preventDefault();
  act();
  show();
}

/** @type {Record<string, () => void>} */
const OTHER_KEYS = {
  c: () => {
    const i = checkLines.findIndex((line) => line.id === state.check?.id);
    state = { ...state, strip: false, check: checkLines[i + 1] ?? null };
  },
  s: () => {
    state = { ...state, check: null, strip: !state.strip };
  },
  "+": () => widen(1),
  "=": () => widen(1),
  "-": () => widen(-1),
  l: () => setPrefs({ light: LIGHTS[(LIGHTS.findIndex((l) => l.name === state.prefs.light) + 1) % LIGHTS.length].name }),
  u: () => setPrefs({ ground: state.prefs.ground === "lit lines" ? "unlit lines" : "lit lines" }),
  x: () => void markCut(),
  r: () => openRegistration(null),
  w: () => (panel.name === "cloth" ? panel.close() : openCloth(null)),
  z: () => {
    wish = NO_WISH;
    openAgain(null);
  },
  k: () => (panel.name === "ledger" ? panel.close() : openLedger()),
  n: () => setPrefs({ net: !state.prefs.net }),
  t: () => setPrefs({ turned: !state.prefs.turned }),
  m: () => (panel.name === "settings" ? panel.close() : openSettings()),
  "?": () => (panel.name === "keys" ? panel.close() : panel.show("keys", ...keysPanel(panel.close))),
  f: () => {
    if (document.fullscreenElement) void document.exitFullscreen();
    else document.documentElement.requestFullscreen().catch(() => undefined);
  },
};

/** @param {import("./steps.js").Command} command */
function go(command) {
  if (!projection || behind || state.refusal.length) return;
  const walk = step(state.walk, command, projection);
  if (walk === state.walk) return;
  state = { ...state, walk };
  void session?.move(walk);
}

/** The current piece is cut: mark it, and on to the next. */
async function markCut() {
  const stop = projection && currentStop(state.walk, projection);
  if (!session || stop?.kind !== "piece" || state.refusal.length) return;
  if (!(await session.mark("cut", stop.key))) return;
  go("next");
  show();
}

/** Ask where the chalk lies; only while its crosses are lit. @param {{message: string, hint?: string} | null} refusal */
function openRegistration(refusal) {
  const shown = projection;
  if (!shown || !session || currentStop(state.walk, shown)?.kind !== "along") return;
  const window = shown.windows[state.walk.window];
  const lit = asItLies(window, state.registered);
  const crosses = shown.windows[state.walk.window - 1].crosses;
  panel.show("registration", ...registrationPanel(crosses.length, (offsets) => {
    // Offsets are read from the light as it stands; the motion kept is from the window's own place.
    const { chalked } = crossPlaces(crosses, lit, offsets, state.prefs.turned);
    const from = crossPlaces(crosses, window, offsets, false).lit;
    void session?.send("registration", { window: window.index, map_id: shown.map.id, lit: from, chalked }).then((why) => {
      if (why) openRegistration(why);
      else panel.close();
    });
  }, panel.close, refusal));
  document.getElementById("off-P-x")?.focus();
}

/** @param {{message: string, hint?: string} | null} refusal */
function openCloth(refusal) {
  if (!session) return;
  panel.show("cloth", ...clothPanel(session.now.measured, (wish) => {
    void session?.send("cloth", wish).then((why) => openCloth(why));
  }, panel.close, refusal));
  document.getElementById("cloth-l1")?.focus();
}

function openLedger() {
  if (!session || !projection) return;
  const held = document.activeElement?.id ?? "";
  const shown = projection;
  const pieces = shown.order.flatMap((key) => shown.pieces.filter((p) => p.key === key));
  const why = markRefused;
  markRefused = null;
  panel.show("ledger", ...ledgerPanel(session.now, pieces, (what, key, hand) => void session?.mark(what, key, hand), why, panel.close, () => openAgain(null)));
  // Drawn again after each mark: the hand stays where it was, or on what took its place.
  (document.getElementById(held) ?? document.getElementById(held.replace("mark-", "back-").replace(/^spoiled-(.*)-(drawn|turned)$/, "back-$1")))?.focus();
}

/** @param {{message: string, hint?: string} | null} refusal */
function openAgain(refusal, typed = typedWish()) {
  if (!session || !projection) return;
  const held = document.activeElement?.id ?? "";
  // Drawn again when another page marks or moves: what is typed stays.
  wish = typed ?? wish;
  const stop = currentStop(state.walk, projection);
  const current = stop?.kind === "piece" ? projection.pieces.find((p) => p.key === stop.key) ?? null : null;
  panel.show("again", ...againPanel({ cutting: session.now, pieces: projection.pieces, current, wish, busy: laying, refusal }, {
    another,
    spoiled: (key, hand) => void markSpoiled(key, hand),
    lay: () => void layAgain(),
    close: panel.close,
  }));
  (document.getElementById(held) ?? document.getElementById("again-lay"))?.focus();
}

/** What is typed of one flaw goes onto the list, and the fields are free for the next. */
function another() {
  const typed = typedWish() ?? wish;
  try {
    if (!flawOutline(typed.flaw)) return void document.getElementById("again-along")?.focus();
    wish = { ...typed, flaw: NO_WISH.flaw, more: [...typed.more, typed.flaw] };
    openAgain(null, null);
    document.getElementById("again-along")?.focus();
  } catch (error) {
    openAgain({ message: /** @type {Error} */ (error).message });
  }
}

/** A piece whose cutting failed counts as cut: its cloth is gone. @param {string} key @param {string} hand */
async function markSpoiled(key, hand) {
  if (!session) return;
  if (!session.now.cut.includes(key) && !(await session.mark("cut", key))) return;
  await session.mark("spoiled", key, hand);
}

async function layAgain() {
  if (!session || laying) return;
  const typed = typedWish() ?? wish;
  /** @type {import("./map.js").TablePoint[][]} */
  let flaws;
  try {
    flaws = [...typed.more, typed.flaw].flatMap((f) => { const outline = flawOutline(f); return outline ? [outline] : []; });
  } catch (error) {
    openAgain({ message: /** @type {Error} */ (error).message });
    return;
  }
  laying = true;
  openAgain(null);
  const why = await session.layAgain({ flaws, take_back: typed.sound, keep: typed.keep, seconds: typed.longer ? SECONDS.long : SECONDS.short });
  laying = false;
  if (why) openAgain({ message: why.message, hint: `${why.hint ?? ""} The layout stands as it was, and what is cut stays marked.` });
}

/** @param {KeyboardEvent} event */
function escape(event) {
  event.preventDefault();
  if (["keys", "settings", "ledger", "registration", "cloth", "refused", "again", "laid"].includes(panel.name)) panel.close();
  else if (state.check || state.strip) {
    state = { ...state, check: null, strip: false };
    show();
  } else if (document.fullscreenElement) void document.exitFullscreen();
  else location.assign("/");
}

/** @param {Partial<import("./prefs.js").Prefs>} change */
function setPrefs(change) {
  state = { ...state, prefs: { ...state.prefs, ...change } };
  localStorage.setItem(PREFS, JSON.stringify(state.prefs));
  show();
  if (panel.name === "settings") openSettings();
}

/** @param {number} way */
function widen(way) {
  const i = WIDTHS_MM.indexOf(state.prefs.width_mm) + way;
  if (i >= 0 && i < WIDTHS_MM.length) setPrefs({ width_mm: WIDTHS_MM[i] });
}

function openSettings() {
  const held = document.activeElement?.id ?? "";
  panel.show("settings", ...settingsPanel(state.prefs, setPrefs, panel.close));
  // Redrawn after each change: the hand stays on the control it was on.
  if (held.startsWith("set-")) document.getElementById(held)?.focus();
}

async function askService() {
  if (!projection) return;
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), ASK_EVERY);
  let lost = false;
  try {
    await call("GET", "/health", undefined, stop.signal);
  } catch {
    lost = true;
  }
  clearTimeout(timer);
  if (lost === state.lost) return;
  state = { ...state, lost };
  show();
}

async function chooseLay() {
  try {
    const { lays } = await call("GET", "/lays");
    const links = lays.flatMap((/** @type {{id: string, style: string, summary: {cloth: string, buy_text: string}[]}} */ found) =>
      found.summary.map((s) => element("li", {}, element("a", { href: `/table?lay=${found.id}&cloth=${encodeURIComponent(s.cloth)}` }, `${found.style}, ${s.cloth}`), ", or ", element("a", { href: `/hand?lay=${found.id}&cloth=${encodeURIComponent(s.cloth)}` }, "step it from here"))));
    panel.show("choose", heading("Which layout goes on the table?"),
      links.length ? element("ul", {}, ...links) : element("p", {}, "There is no layout yet. Make one at the desk."),
      element("div", { class: "actions" }, element("a", { class: "button", href: "/" }, "To the desk")));
  } catch (error) {
    notBegun(/** @type {import("../api.js").ApiError} */ (error));
  }
}

/** @param {{code?: string, message: string, hint?: string}} error */
function notBegun(error) {
  const actions = [element("a", { class: "button", href: "/" }, "To the desk")];
  if (error.code === "no_map") actions.unshift(element("a", { class: "button main", href: "/calibrate" }, "Calibrate"));
  else actions.unshift(element("button", { class: "main", click: () => { panel.close(); void begin(); } }, "Try again"));
  panel.show("error", heading("Nothing is lit"), wrong(error), element("div", { class: "actions" }, ...actions));
}

/** Hold the screen awake; browsers let go of it when the page is hidden. */
async function keepAwake() {
  if (!projection || document.visibilityState !== "visible") return;
  try {
    await navigator.wakeLock?.request("screen");
  } catch {
    // Refused, on battery for one: the picture stays as it is, only the screen may go to sleep.
  }
}

/** The pointer is light on the cloth too: hidden unless it moves. */
function pointing() {
  let timer = 0;
  addEventListener("pointermove", () => {
    document.body.classList.add("pointing");
    clearTimeout(timer);
    timer = window.setTimeout(() => document.body.classList.remove("pointing"), 2500);
  });
}

/** @param {string} id */
function at(id) {
  return /** @type {HTMLElement} */ (document.getElementById(id));
}
