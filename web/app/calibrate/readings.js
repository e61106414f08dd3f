// The distances typed so far and which to ask for next. Pure.

import { pairsOf } from "./crosses.js";

/** @typedef {{from: string, to: string, typed: string, times: number}} Reading  typed as the person wrote it, measured so often */
/** @typedef {import("../table/surface.js").ScreenSetting} ScreenSetting */

/**
 * @typedef {object} Tried  what the service says of the readings
 * @property {boolean} settled
 * @property {{from: string, to: string, typed_mm: number, solved_mm: number, off_mm: number | null, odd: boolean}[]} residuals
 * @property {[string, string][]} again
 * @property {number} checks
 * @property {number | null} p95_mm
 * @property {string[]} words
 */

/**
 * The readings with one added or changed; an empty text takes it away.
 * @param {Reading[]} readings
 * @param {[string, string]} pair
 * @param {string} typed
 * @returns {Reading[]}
 */
export function withReading(readings, pair, typed) {
  const rest = readings.filter((r) => !isPair(r, pair));
  if (typed.trim() === "") return rest;
  const at = readings.findIndex((r) => isPair(r, pair));
  const fresh = { from: pair[0], to: pair[1], typed: typed.trim(), times: (readings[at]?.times ?? 0) + 1 };
  return at < 0 ? [...rest, fresh] : readings.map((r, i) => (i === at ? fresh : r));
}

/**
 * The pair to measure now: of those that do not agree the likeliest not yet measured again (with
 * few readings the odd one cannot be told, so it goes round), then the next in walking order.
 * @param {"corners" | "grid"} kind
 * @param {Reading[]} readings
 * @param {Tried | null} tried
 * @returns {[string, string] | null}
 */
export function nextPair(kind, readings, tried) {
  if (tried?.again.length) {
    const times = (/** @type {[string, string]} */ pair) => readings.find((r) => isPair(r, pair))?.times ?? 0;
    const least = Math.min(...tried.again.map(times));
    return tried.again.find((pair) => times(pair) === least) ?? null;
  }
  return pairsOf(kind).find((pair) => !readings.some((r) => isPair(r, pair))) ?? null;
}

/**
 * May these readings be kept as a map: settled, checked by one distance at least, none odd?
 * @param {Tried | null} tried
 */
export function mayKeep(tried) {
  return tried !== null && tried.settled && tried.checks >= 1 && tried.again.length === 0;
}

/** @param {Reading} reading @param {[string, string]} pair */
export function isPair(reading, [a, b]) {
  return (reading.from === a && reading.to === b) || (reading.from === b && reading.to === a);
}

/**
 * Millimetres off in words: sign, one decimal, and which way.
 * @param {number | null} off typed less solved
 */
export function offWords(off) {
  if (off === null) return "nothing checks it yet";
  if (Math.abs(off) < 0.05) return "agrees";
  return `${Math.abs(off).toFixed(1)} mm too ${off > 0 ? "long" : "short"}`;
}
