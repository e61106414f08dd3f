/**
 * What this browser remembers of a person's habits: unit system, word set, and how each style's cloths
 * were last completed. Kept in local storage; a browser without it forgets, nothing else breaks.
 */

/** @import {System} from "./units.js" */
/** @import {Words} from "./words.js" */
/** @import {ClothChoice} from "./state.js" */
import { newCloth } from "./state.js";

/** @typedef {{copies: number, seconds: number, gap_mm: number}} How */

const PREFIX = "grainfold.";

/** @param {string} name @returns {any} */
function read(name) {
  try {
    return JSON.parse(localStorage.getItem(PREFIX + name) ?? "null");
  } catch {
    return null;
  }
}

/** @param {string} name @param {unknown} value */
function write(name, value) {
  try {
    localStorage.setItem(PREFIX + name, JSON.stringify(value));
  } catch {
    // Storage is full or switched off: the choice holds until the page is left.
  }
}

/** @returns {{system: System, words: Words}} */
export function readHabits() {
  const kept = read("habits");
  return {
    system: kept?.system === "imperial" ? "imperial" : "metric",
    words: kept?.words === "us" ? "us" : "uk",
  };
}

/** @param {{system: System, words: Words}} habits */
export const writeHabits = (habits) => write("habits", habits);

/**
 * The cloths of a style as last completed; roles never seen get a new cloth.
 * @param {string} styleId
 * @param {readonly string[]} roles
 * @param {System} system
 * @returns {{cloths: Record<string, ClothChoice>, how: How}}
 */
export function readCloths(styleId, roles, system) {
  const kept = read(`cloths.${styleId}`);
  /** @type {Record<string, ClothChoice>} */
  const cloths = {};
  for (const role of roles) cloths[role] = { ...newCloth(system), ...kept?.cloths?.[role] };
  return { cloths, how: { copies: 1, seconds: 10, gap_mm: 0, ...kept?.how } };
}

/** @param {string} styleId @param {{cloths: Record<string, ClothChoice>, how: How}} value */
export const writeCloths = (styleId, value) => write(`cloths.${styleId}`, value);

/** The style and the lay last looked at, so that the stations lead back to them. */
/** @returns {{style?: string, lay?: string}} */
export const readLast = () => read("last") ?? {};

/** @param {{style?: string, lay?: string}} last */
export const writeLast = (last) => write("last", last);
