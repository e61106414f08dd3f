// How a person wants the light, kept on this machine from one day to the next.

import { LIGHTS, ROOMS, ways } from "./contrast.js";

/**
 * @typedef {object} Prefs
 * @property {number} width_mm
 * @property {boolean} net
 * @property {boolean} turned
 * @property {number} cap_mm
 * @property {string} cloth  css colour
 * @property {string} room  name of a room light
 * @property {string} light  name of a light
 * @property {"lit lines" | "unlit lines"} ground
 */

/** Widths offered, mm. */
export const WIDTHS_MM = [1, 1.5, 2, 3, 4];

/** Heights of capitals offered, mm; none below what can be read while standing. */
export const CAPS_MM = [15, 18, 22, 28];

/** @type {Prefs} */
export const FIRST = { width_mm: 2, net: false, turned: false, cap_mm: 15, cloth: "#20242c", room: "dim", light: "white", ground: "lit lines" };

/** Settings out of what was kept; anything unreadable falls back to the first. @param {string | null} kept @returns {Prefs} */
export function readPrefs(kept) {
  /** @type {Record<string, unknown>} */
  let found = {};
  try {
    found = JSON.parse(kept ?? "{}") ?? {};
  } catch {
    found = {};
  }
  /** @template T @param {keyof Prefs} name @param {(value: any) => boolean} good @param {T} first @returns {T} */
  const take = (name, good, first) => (good(found[name]) ? /** @type {T} */ (found[name]) : first);
  const isFlag = (/** @type {unknown} */ v) => typeof v === "boolean";
  return {
    width_mm: take("width_mm", (v) => WIDTHS_MM.includes(v), FIRST.width_mm),
    net: take("net", isFlag, FIRST.net),
    turned: take("turned", isFlag, FIRST.turned),
    cap_mm: take("cap_mm", (v) => CAPS_MM.includes(v), FIRST.cap_mm),
    cloth: take("cloth", (v) => typeof v === "string" && /^#[0-9a-f]{6}$/i.test(v), FIRST.cloth),
    room: take("room", (v) => ROOMS.some((r) => r.name === v), FIRST.room),
    light: take("light", (v) => LIGHTS.some((l) => l.name === v), FIRST.light),
    ground: take("ground", (v) => v === "lit lines" || v === "unlit lines", FIRST.ground),
  };
}

/** The prefs with the best light and ground for their cloth and room. @param {Prefs} prefs @returns {Prefs} */
export function bestLight(prefs) {
  const [best] = ways(prefs.cloth, roomShare(prefs));
  return { ...prefs, light: best.light, ground: best.ground };
}

/** @param {Prefs} prefs */
export function roomShare(prefs) {
  return (ROOMS.find((r) => r.name === prefs.room) ?? ROOMS[1]).share;
}

/** @param {Prefs} prefs */
export function lightCss(prefs) {
  return (LIGHTS.find((l) => l.name === prefs.light) ?? LIGHTS[0]).css;
}

/**
 * Colours of line, dimmed line and ground.
 * @param {Prefs} prefs
 * @returns {import("./paint.js").Palette}
 */
export function palette(prefs) {
  const css = lightCss(prefs);
  return prefs.ground === "lit lines"
    ? { line: css, dim: scaled(css, 0.4), ground: "#000000" }
    : { line: "#000000", dim: scaled(css, 0.66), ground: css };
}

/** @param {string} css @param {number} share */
function scaled(css, share) {
  const parts = [1, 3, 5].map((i) => Math.round(parseInt(css.slice(i, i + 2), 16) * share));
  return `#${parts.map((p) => p.toString(16).padStart(2, "0")).join("")}`;
}
