// Which shapes are on which sheet: the rest of the lay, what is current, and the strip of words. Pure.

import { LEFT_OVER_MM, asItLies, registeredWords } from "./registration.js";
import { clothItems, lackItems, obstacleItems } from "./ground.js";
import { pieceItems } from "./pieces.js";
import { boxRing } from "./scene.js";
import { acrossItems, checkItems, crossItems, stripItems } from "./signs.js";
import { LIGHTS } from "./contrast.js";
import { currentStop } from "./steps.js";
import { countText, stripLines } from "./wording.js";

/** @typedef {import("./scene.js").Item} Item */
/** @typedef {import("./scene.js").Projection} Projection */
/** @typedef {import("./scene.js").Pens} Pens */
/** @typedef {import("./steps.js").Walk} Walk */
/** @typedef {{id: string, label: string, from: [number, number], to: [number, number]}} CheckLine */

/**
 * @typedef {object} State  all that the drawing depends on, apart from projection and surface
 * @property {Walk} walk
 * @property {import("./prefs.js").Prefs} prefs
 * @property {string[]} refusal  why nothing may be cut by this light; empty when it may
 * @property {string} warning
 * @property {boolean} lost  the service does not answer
 * @property {CheckLine | null} check  lit alone
 * @property {boolean} strip  test strip, lit alone
 * @property {string[]} cut  keys of pieces already cut
 * @property {import("./registration.js").Registered[]} registered  how the cloth lies in the windows
 * @property {import("./cloth.js").Measured | null} measured  the real cloth, and whether it fits
 * @property {import("./map.js").TablePoint[][]} flaws  found while cutting, cloth mm
 * @property {import("./map.js").TablePoint[][]} typed  flaws typed and not yet laid round, cloth mm
 * @property {import("./map.js").TablePoint[][]} holes  cut out before the rest was laid again, cloth mm
 * @property {string} gaps  what is still to be cut, in words
 */

/**
 * The sheet under everything: cloth and pieces of the window, dimmed when one is shown by itself.
 * @param {Projection} projection
 * @param {State} state
 * @param {Pens} pens
 * @returns {Item[]}
 */
export function baseItems(projection, state, pens) {
  if (state.refusal.length || state.check || state.strip) return [];
  const { walk, prefs } = state;
  const window = asItLies(projection.windows[walk.window], state.registered);
  const stop = currentStop(walk, projection);
  const guides = walk.view === "guides" || stop?.kind === "spread" || stop?.kind === "along";
  /** @type {"line" | "dim"} */
  const shade = walk.view === "piece" && !guides ? "dim" : "line";
  const items = clothItems(projection, window, { shade, look: prefs, guides });
  items.push(...lackItems(projection, window, { shade: "line", look: prefs }));
  items.push(...obstacleItems(state.flaws, window, { said: "flaw", marked: true, shade: "line", look: prefs }));
  items.push(...obstacleItems(state.typed, window, { said: "flaw typed", marked: true, shade: "line", look: prefs }));
  items.push(...obstacleItems(state.holes, window, { said: "cut out", marked: false, shade: guides ? "line" : "dim", look: prefs }));
  if (guides) return items;
  for (const key of [...window.whole, ...window.part.map((p) => p.key)]) {
    const piece = projection.pieces.find((p) => p.key === key);
    if (!piece) continue;
    const done = state.cut.includes(key);
    const elsewhere = wholeElsewhere(projection, window, key);
    items.push(...pieceItems(piece, window, {
      count: countText(projection, key), shade: done || elsewhere ? "dim" : shade, look: prefs, pens,
      approved: walk.approved, done, elsewhere,
    }));
  }
  return items;
}

/**
 * Number of the window, counted from one, in which a piece lit here is shown whole and cut; 0 when
 * that is this one, or when it is whole in none.
 * @param {Projection} projection
 * @param {import("./scene.js").Window} window
 * @param {string} key
 */
function wholeElsewhere(projection, window, key) {
  const home = projection.windows.find((w) => w.first.includes(key));
  return home && home.index !== window.index && home.whole.includes(key) ? home.index + 1 : 0;
}

/**
 * The sheet over it: the current piece, crosses to chalk, a check line, the test strip.
 * @param {Projection} projection
 * @param {State} state
 * @param {Pens} pens
 * @returns {Item[]}
 */
export function frontItems(projection, state, pens) {
  const { walk, prefs } = state;
  if (state.check) return checkItems(state.check, { shade: "line", look: prefs });
  if (state.strip) return stripItems(projection.room, LIGHTS, { look: prefs });
  if (state.refusal.length) return refusalItems(projection, state, pens);
  const stop = currentStop(walk, projection);
  if (!stop) return [];
  const window = asItLies(projection.windows[walk.window], state.registered);
  if (stop.kind === "piece") {
    const piece = projection.pieces.find((p) => p.key === stop.key);
    if (!piece) return [];
    return pieceItems(piece, window, { count: countText(projection, stop.key), shade: "line", look: prefs, pens, alone: true, done: state.cut.includes(stop.key) });
  }
  if (stop.kind === "chalk") return crossItems(window.crosses, window, { shade: "line", look: prefs });
  const spread = projection.spreads.find((s) => s.id === window.spread);
  if (stop.kind === "across" && spread?.across_mm) return acrossItems(spread.across_mm, window, { shade: "line", look: prefs });
  if (stop.kind === "along") return crossItems(projection.windows[walk.window - 1].crosses, window, { shade: "line", look: prefs });
  return [];
}

/**
 * The strip at the near edge: what is lit, and what to know about it.
 * @param {Projection} projection
 * @param {State} state
 * @param {Pens} pens
 * @returns {Item[]}
 */
export function wordItems(projection, state, pens) {
  const [first, second] = linesNow(projection, state);
  const [x0, y0, x1] = projection.strip;
  const cap = Math.min(state.prefs.cap_mm, 15);
  const wide = x1 - x0 - 20;
  const lost = state.lost ? LOST : "";
  const flag = state.warning || state.refusal.length ? 50 : 0;
  const lostWide = lost ? pens.measure(lost, cap) + 20 : 0;
  /** @type {Item[]} */
  const items = [
    { kind: "text", lines: [fitted(first, cap, wide - lostWide, pens)], at: [x0 + 10, y0 + 34], cap, turn: 0, anchor: "start", shade: "line" },
    { kind: "text", lines: [fitted(second, cap, wide - flag, pens)], at: [x0 + 10 + flag, y0 + 8], cap, turn: 0, anchor: "start", shade: "line" },
  ];
  if (lost) items.push({ kind: "text", lines: [lost], at: [x1 - 10, y0 + 34], cap, turn: 0, anchor: "end", shade: "line" });
  if (flag) {
    // Slanted bars, so that the warning is seen and not only read.
    for (let i = 0; i < 3; i += 1) {
      const x = x0 + 10 + i * 14;
      items.push({ kind: "area", rings: [[[x, y0 + 6], [x + 7, y0 + 6], [x + 15, y0 + 24], [x + 8, y0 + 24]]], shade: "line" });
    }
  }
  return state.prefs.turned ? turnedRound(items, projection.strip) : items;
}

/** What a screen reader says: the same words. @param {Projection} projection @param {State} state */
export function spoken(projection, state) {
  return [...linesNow(projection, state), state.lost ? LOST : ""].filter(Boolean).join(" ");
}

export const LOST = "Service lost: what is lit stays true.";

/** @param {Projection} projection @param {State} state @returns {[string, string]} */
function linesNow(projection, state) {
  if (state.check) return [`This line should measure ${state.check.label}, between the outer sides of its ends.`, "C: the next line. Type what you measure on the calibration page."];
  if (state.strip) return ["Which line do you see best on this cloth? Top: lit lines. Below: unlit lines.", "S: away with it. M: choose."];
  if (state.refusal.length) return ["Not for cutting", state.refusal[state.refusal.length - 1]];
  const [first, second] = stripLines(projection, state.walk, state.gaps, state.cut);
  if (state.walk.view === "guides" && !state.walk.approved) {
    return [first, state.warning || (state.measured ? `${state.measured.words} Enter: look at the layout.` : "W: measure the cloth. Enter: look at the layout.")];
  }
  const followed = currentStop(state.walk, projection)?.kind === "along" && state.registered.find((r) => r.window === state.walk.window);
  if (followed) return [registeredWords(followed), followed.residual_mm > LEFT_OVER_MM ? "That is much: measure the crosses again (R)." : second];
  return [first, state.warning || second];
}

/** @param {Projection} projection @param {State} state @param {Pens} pens @returns {Item[]} */
function refusalItems(projection, state, pens) {
  const [x0, y0, x1, y1] = projection.room;
  const turn = state.prefs.turned ? Math.PI : 0;
  const [mx, my] = [(x0 + x1) / 2, (y0 + y1) / 2];
  const big = Math.min(45, (x1 - x0) / 16);
  const way = state.prefs.turned ? -1 : 1;
  return [
    { kind: "path", points: boxRing([x0 + 20, y0 + 20, x1 - 20, y1 - 20]), closed: true, width: 3, shade: "line" },
    { kind: "text", lines: ["NOT FOR CUTTING"], at: [mx, my + way * big * 0.6], cap: big, turn, anchor: "middle", shade: "line" },
    { kind: "text", lines: state.refusal.flatMap((line) => broken(line, 18, x1 - x0 - 80, pens)), at: [mx, my - way * big * 0.8], cap: 18, turn, anchor: "middle", shade: "line" },
  ];
}

/**
 * What fits of a line of words: whole sentences first; of a sentence too long by itself, its words.
 * @param {string} said
 * @param {number} cap
 * @param {number} wide  mm
 * @param {Pens} pens
 */
export function fitted(said, cap, wide, pens) {
  const sentences = said.split(/(?<=[.?]) /);
  while (sentences.length > 1 && pens.measure(sentences.join(" "), cap) > wide) sentences.pop();
  const whole = sentences.join(" ");
  if (pens.measure(whole, cap) <= wide) return whole;
  const parts = whole.split(" ");
  while (parts.length > 1 && pens.measure(`${parts.join(" ")} …`, cap) > wide) parts.pop();
  return `${parts.join(" ")} …`;
}

/**
 * Words broken into lines that fit.
 * @param {string} said
 * @param {number} cap
 * @param {number} wide  mm
 * @param {Pens} pens
 * @returns {string[]}
 */
export function broken(said, cap, wide, pens) {
  /** @type {string[]} */
  const lines = [];
  for (const word of said.split(" ")) {
    const last = lines[lines.length - 1];
    if (last !== undefined && pens.measure(`${last} ${word}`, cap) <= wide) lines[lines.length - 1] = `${last} ${word}`;
    else lines.push(word);
  }
  return lines;
}

/** The same items turned half round within a box. @param {Item[]} items @param {[number, number, number, number]} b @returns {Item[]} */
function turnedRound(items, [x0, y0, x1, y1]) {
  /** @param {[number, number]} p @returns {[number, number]} */
  const round = ([x, y]) => [x0 + x1 - x, y0 + y1 - y];
  return items.map((item) => {
    if (item.kind === "text") return { ...item, at: round(item.at), turn: item.turn + Math.PI };
    if (item.kind === "path") return { ...item, points: item.points.map(round) };
    return { ...item, rings: item.rings.map((r) => r.map(round)) };
  });
}
