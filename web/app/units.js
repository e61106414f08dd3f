/**
 * Lengths and shares as people write them, in and out; inside everything is millimetres.
 * Twin of nesting/units.py (1 inch = 25.4 mm, 1 yard = 914.4 mm exactly); tests hold both to one table.
 */

/** @typedef {"metric" | "imperial"} System */

/** Millimetres in one unit. @type {Readonly<Record<string, number>>} */
export const MM_PER = Object.freeze({ mm: 1, cm: 10, m: 1000, in: 25.4, ft: 304.8, yd: 914.4 });

/** @type {Readonly<Record<string, string>>} */
const NAMES = Object.freeze({
  mm: "mm", cm: "cm", m: "m", in: "in", ft: "ft", yd: "yd",
  '"': "in", "″": "in", "”": "in", inch: "in", inches: "in", ins: "in",
  "'": "ft", "′": "ft", foot: "ft", feet: "ft",
  yard: "yd", yards: "yd", yds: "yd",
  metre: "m", metres: "m", meter: "m", meters: "m",
  centimetre: "cm", centimetres: "cm", centimeter: "cm", centimeters: "cm",
  millimetre: "mm", millimetres: "mm", millimeter: "mm", millimeters: "mm",
});

/** @type {Readonly<Record<string, string>>} */
const VULGAR = Object.freeze({
  "½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8",
  "⅓": "1/3", "⅔": "2/3",
});

/** A length or share that cannot be read; the message can be shown as it is. */
export class LengthError extends Error {}

/**
 * Millimetres from a text such as `150 cm`, `60in`, `1 3/8"`, `1⅜`, `2 yd`.
 * A bare number is in `unit`; a fraction without a unit is inches when `unit` is metric.
 * @param {string} text
 * @param {string} [unit] one of MM_PER
 * @returns {number} mm, finite, 0 or more
 * @throws {LengthError}
 */
export function parseLength(text, unit = "mm") {
  const [amount, written] = split(text);
  const value = readAmount(amount, text);
  const named = NAMES[written];
  if (written && !named) throw unreadable(text, `the unit “${written}” is not known`);
  const assumed = amount.includes("/") && (unit === "mm" || unit === "cm") ? "in" : unit;
  const mm = value * MM_PER[named ?? assumed];
  if (!Number.isFinite(mm) || mm < 0) throw unreadable(text, "it must be 0 or more");
  return mm;
}

/**
 * A share between 0 and 1 (exclusive) from `3%`, `3 %`, `3` (per cent, the blank says so) or `2,5`.
 * @param {string} text
 * @param {boolean} [whole] 100 % is a share too
 * @returns {number}
 * @throws {LengthError}
 */
export function parsePercent(text, whole = false) {
  const body = text.trim().replace(/%$/, "").trim().replace(",", ".");
  const value = /^(\d+(\.\d+)?|\.\d+)$/.test(body) ? Number(body) / 100 : NaN;
  if (!(value >= 0 && (value < 1 || (whole && value === 1)))) {
    throw new LengthError(`“${text}” is not a share between 0 and 100 %. Write it like 3 %.`);
  }
  return value;
}

/**
 * Whole and fraction to the nearest 1/denominator: 1.375 -> `1 3/8`.
 * @param {number} value
 * @param {number} [denominator] a power of two
 * @returns {string}
 */
export function showFraction(value, denominator = 16) {
  const parts = roundHalfEven(Math.abs(value) * denominator);
  const sign = value < 0 && parts ? "-" : "";
  const whole = Math.floor(parts / denominator);
  let top = parts - whole * denominator;
  if (!top) return `${sign}${whole}`;
  let bottom = denominator;
  while (top % 2 === 0) {
    top /= 2;
    bottom /= 2;
  }
  return `${sign}${whole ? `${whole} ` : ""}${top}/${bottom}`;
}

/**
 * A size on a piece or a cloth: `62.4 cm` or `24 9/16 in`.
 * @param {number} mm
 * @param {System} system
 * @param {number} [denominator]
 * @returns {string}
 */
export function showLength(mm, system, denominator = 16) {
  if (system === "imperial") return `${showFraction(mm / MM_PER.in, denominator)} in`;
  return `${tidy(mm / 10, 1)} cm`;
}

/**
 * A length of cloth as shops say it: `1.60 m` or `1 3/4 yd` (eighths, else sixteenths).
 * @param {number} mm
 * @param {System} system
 * @returns {string}
 */
export function showClothLength(mm, system) {
  if (system === "imperial") {
    const eighths = (mm / MM_PER.yd) * 8;
    const fine = Math.abs(eighths - Math.round(eighths)) < 1e-6 ? 8 : 16;
    return `${showFraction(mm / MM_PER.yd, fine)} yd`;
  }
  return `${(mm / 1000).toFixed(2)} m`;
}

/**
 * What a blank shows for a length that may be small: `1.2 cm`, `15 cm`, `1/2 in`.
 * @param {number} mm
 * @param {System} system
 * @returns {string}
 */
export function showBlank(mm, system) {
  if (system === "imperial") return `${showFraction(mm / MM_PER.in, 16)} in`;
  return `${Number((mm / 10).toFixed(2))} cm`;
}

/**
 * @param {number} share
 * @returns {string}
 */
export function showPercent(share) {
  return `${Number((share * 100).toFixed(1))} %`;
}

/**
 * @param {number} value
 * @param {number} digits
 */
function tidy(value, digits) {
  return value.toFixed(digits);
}

/** Round half to even, as the Python twin does. @param {number} value */
function roundHalfEven(value) {
  const low = Math.floor(value);
  const rest = value - low;
  if (rest !== 0.5) return Math.round(value);
  return low % 2 === 0 ? low : low + 1;
}

/** @param {string} text @returns {[string, string]} */
function split(text) {
  let body = text.trim().toLowerCase();
  for (const [sign, plain] of Object.entries(VULGAR)) {
    body = body.replace(new RegExp(`(\\d)\\s*-?\\s*${sign}`, "g"), `$1 ${plain}`).replaceAll(sign, plain);
  }
  const match = /^([\d\s.,/-]*\d)\s*(.*?)\.?$/.exec(body);
  if (!match) throw unreadable(text, "no number was found");
  return [match[1].trim(), match[2].trim()];
}

/** @param {string} amount @param {string} text @returns {number} */
function readAmount(amount, text) {
  const mixed = /^(?:(\d+)[\s-]+)?(\d+)\/(\d+)$/.exec(amount);
  if (mixed) {
    const bottom = Number(mixed[3]);
    if (!bottom) throw unreadable(text, "a fraction's lower number is 0");
    return Number(mixed[1] ?? 0) + Number(mixed[2]) / bottom;
  }
  if (!/^(\d+([.,]\d+)?|[.,]\d+)$/.test(amount)) throw unreadable(text, "the number cannot be read");
  return Number(amount.replace(",", "."));
}

/** @param {string} text @param {string} why */
function unreadable(text, why) {
  return new LengthError(
    `“${text}” cannot be read as a length: ${why}. Write it like 150 cm, 1.5 m, 60 in, 1 3/8 in.`,
  );
}

/** How far an arrow key moves what stands on a drawing, mm. @type {Readonly<Record<System, number>>} */
export const STEP_MM = Object.freeze({ metric: 1, imperial: MM_PER.in / 16 });

/** The same with Shift. @type {Readonly<Record<System, number>>} */
export const LEAP_MM = Object.freeze({ metric: 10, imperial: MM_PER.in / 2 });

/** The steps in words. @param {System} system */
export const stepWords = (system) => (system === "metric" ? "1 mm, with Shift 10 mm" : "1/16 in, with Shift 1/2 in");

/** The nearest whole step from `zero`. @param {number} mm @param {System} system @param {number} [zero] mm @returns {number} mm */
export const toStep = (mm, system, zero = 0) => zero + Math.round((mm - zero) / STEP_MM[system]) * STEP_MM[system];
