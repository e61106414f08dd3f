// The table view: fetches a projection once, lights it, and listens to keys. Measures nothing itself.

import { call } from "../api.js";
import { laidAgainPanel } from "./again.js";
import { hidePointer, keepAwake } from "./awake.js";
import { choosePanel, notBegunPanel } from "./choose.js";
import { LIGHTS } from "./contrast.js";
import { baseItems, frontItems, spoken, wordItems } from "./draw.js";
import { makeSheet } from "./light.js";
import { tableMap } from "./map.js";
import { measurer } from "./paint.js";
import { cautions, cautionsRead, element, heading, keepCautionsRead, makePanel, wrong } from "./panel.js";
import { makePanels } from "./panels.js";
import { WIDTHS_MM, palette, readPrefs } from "./prefs.js";
import { makeRepair } from "./repair.js";
import { followCutting, getCutting } from "./session.js";
import { START, commandOf, currentStop, step, stops } from "./steps.js";
import { screenSetting, watchSize } from "./surface.js";
import { trust } from "./trust.js";

/** @typedef {import("./scene.js").Projection} Projection */
/** @typedef {import("./trust.js").MapDetail} MapDetail */

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
  typed: [],
  holes: [],
};

const repair = makeRepair({
  panel,
  session: () => session,
  projection: () => projection,
  current: () => currentPiece(),
  light: (typed) => {
    state = { ...state, typed };
    show();
  },
});
const panels = makePanels({ panel, session: () => session, projection: () => projection, state: () => state, setPrefs, repair: () => repair.open() });

watchSize(light, (found) => {
  size = found;
  show();
});
addEventListener("keydown", onKey);
document.addEventListener("fullscreenchange", show);
document.addEventListener("visibilitychange", () => {
  if (projection) void keepAwake();
});
hidePointer();
if (cautionsRead()) void begin();
else warn(() => void begin());
setInterval(() => void askService(), ASK_EVERY);

/** The usual cautions, before anything else is done on this day. @param {() => void} then */
function warn(then) {
  panel.show("cautions", ...cautions(() => {
    keepCautionsRead();
    panel.close();
    then();
  }));
}

async function begin() {
  try {
    if (!lay) return panel.show("choose", ...(await choosePanel()));
    projection = await call("GET", `/lays/${encodeURIComponent(lay)}/projection?cloth=${encodeURIComponent(cloth)}`);
    if (!projection) return;
    checkLines = (await call("GET", `/maps/${projection.map.id}/check-lines`)).lines;
    map = tableMap(projection.map);
    document.body.classList.add("projecting");
    document.title = `${projection.style}, ${cloth}: grainfold table`;
    const cutting = await getCutting(lay, cloth);
    session = followCutting(lay, cloth, cutting, { changed: stand, refusedMove: refuse, refusedMark: panels.ledger });
    void keepAwake();
    stand(cutting);
  } catch (error) {
    panel.show("error", ...notBegunPanel(/** @type {import("../api.js").ApiError} */ (error), () => {
      panel.close();
      void begin();
    }));
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
  if (panel.name === "ledger") panels.ledger();
  if (panel.name === "again") repair.open();
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

/** Light what has changed. */
function show() {
  if (!projection || !map || size[0] === 0) return;
  const shown = projection;
  const [refusal, warning] = trust(projection.map, screenSetting(size), document.fullscreenElement !== null);
  state = { ...state, refusal, warning };
  const { walk, prefs } = state;
  const colours = palette(prefs);
  const pens = { map, measure };
  const lies = state.registered.find((r) => r.window === walk.window);
  const whole = [size, shown.map.id, shown.layout, prefs, refusal, state.check?.id, state.strip, lies];
  const key = (/** @type {unknown[]} */ ...more) => JSON.stringify([...whole, ...more]);
  base.draw(key(walk.view, walk.window, walk.approved, guided(shown), state.cut, state.flaws, state.typed, state.holes.length), size, colours, map, () => baseItems(shown, state, pens));
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

/** @param {KeyboardEvent} event */
function onKey(event) {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.key === "Escape") return escape(event);
  const typing = event.target instanceof HTMLElement && event.target.closest("input, select, textarea, button, a");
  if (panel.name && (typing || !["m", "M", "k", "K", "?"].includes(event.key))) return;
  if (!projection) return;
  // The light was left on over night: a new day begins with the cautions too.
  if (!panel.name && !cautionsRead()) {
    event.preventDefault();
    return warn(() => undefined);
  }
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
  r: () => panels.registration(),
  w: () => panels.toggle("cloth", panels.cloth),
  z: () => repair.open(),
  k: () => panels.toggle("ledger", panels.ledger),
  n: () => setPrefs({ net: !state.prefs.net }),
  t: () => setPrefs({ turned: !state.prefs.turned }),
  m: () => panels.toggle("settings", panels.settings),
  "?": () => panels.toggle("keys", panels.keys),
  f: () => {
    if (document.fullscreenElement) void document.exitFullscreen();
    else document.documentElement.requestFullscreen().catch(() => undefined);
  },
};

/** The piece that is lit alone. */
function currentPiece() {
  const stop = projection && currentStop(state.walk, projection);
  return stop?.kind === "piece" ? projection?.pieces.find((p) => p.key === stop.key) ?? null : null;
}

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
  const piece = currentPiece();
  if (!session || !piece || state.refusal.length) return;
  if (!(await session.mark("cut", piece.key))) return;
  go("next");
  show();
}

/** @param {KeyboardEvent} event */
function escape(event) {
  event.preventDefault();
  if (panel.name === "again") repair.keep();
  if (["keys", "settings", "ledger", "registration", "cloth", "refused", "again", "laid"].includes(panel.name)) panel.close();
  else if (state.check || state.strip) {
    state = { ...state, check: null, strip: false };
    show();
  } else if (document.fullscreenElement) void document.exitFullscreen();
  else location.assign(lay ? `/#/table/${encodeURIComponent(lay)}` : "/");
}

/** @param {Partial<import("./prefs.js").Prefs>} change */
function setPrefs(change) {
  state = { ...state, prefs: { ...state.prefs, ...change } };
  localStorage.setItem(PREFS, JSON.stringify(state.prefs));
  show();
  if (panel.name === "settings") panels.settings();
}

/** @param {number} way */
function widen(way) {
  const i = WIDTHS_MM.indexOf(state.prefs.width_mm) + way;
  if (i >= 0 && i < WIDTHS_MM.length) setPrefs({ width_mm: WIDTHS_MM[i] });
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

/** @param {string} id */
function at(id) {
  return /** @type {HTMLElement} */ (document.getElementById(id));
}
