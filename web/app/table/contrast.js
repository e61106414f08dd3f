// How well a lit or unlit line stands out on a cloth of a given colour in a given room. Pure.

/** Colour as shares of full light, red, green, blue, 0 to 1, linear. @typedef {[number, number, number]} Linear */
/** @typedef {{name: string, css: string, label: string}} Light */

/**
 * @typedef {object} Ways  how lines are shown
 * @property {"lit lines" | "unlit lines"} ground  bright lines on an unlit field, or the reverse
 * @property {string} light  name of a light
 */

/**
 * Lights that stay apart for every kind of colour vision: they differ in lightness first. No red
 * and no green: a tenth of the men in a workroom may not tell those apart.
 * @type {Light[]}
 */
export const LIGHTS = [
  { name: "white", css: "#ffffff", label: "white" },
  { name: "yellow", css: "#ffe14a", label: "yellow" },
  { name: "blue", css: "#8fc7ff", label: "pale blue" },
];

/** Light of the room on the cloth, as a share of the projector's white. */
export const ROOMS = [
  { name: "dark", share: 0.02, label: "dark" },
  { name: "dim", share: 0.1, label: "dim" },
  { name: "lit", share: 0.35, label: "lit" },
  { name: "bright", share: 1, label: "bright" },
];

/** Below this ratio a thin line is hard to follow. The figure asked of thin graphics on screens
 * (Web Content Accessibility Guidelines 2.2, success criterion 1.4.11). */
export const ENOUGH = 3;

/** Weights of red, green and blue in lightness (ITU-R BT.709). */
const WEIGHTS = [0.2126, 0.7152, 0.0722];

/** Least light any cloth sends back: even black velvet is not a hole. From memory, about 1 %. */
const DARKEST = 0.01;

/**
 * Linear shares of a css colour #rrggbb (sRGB, IEC 61966-2-1).
 * @param {string} css
 * @returns {Linear}
 */
export function linear(css) {
  const match = /^#?([0-9a-f]{2})([0-9a-f]{2})([0-9a-f]{2})$/i.exec(css.trim());
  if (!match) throw new Error(`A colour looks like #8a2f3b; “${css}” does not.`);
  const share = match.slice(1).map((hex) => {
    const v = parseInt(hex, 16) / 255;
    return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
  });
  return /** @type {Linear} */ (share);
}

/**
 * Ratio of light to dark, 1 (nothing to be seen) upward, of a line in `light` on `cloth`.
 * @param {string} cloth  css colour of the cloth in daylight
 * @param {string} light  css colour thrown on it
 * @param {number} room  room light as a share of the projector's white
 * @returns {number}
 */
export function contrast(cloth, light, room) {
  const [c, p] = [linear(cloth), linear(light)];
  const sent = (/** @type {number} */ lit) =>
    WEIGHTS.reduce((sum, w, i) => sum + w * Math.max(c[i], DARKEST) * (room + lit * p[i]), 0);
  return sent(1) / sent(0);
}

/**
 * The way to show lines on this cloth, best first: the light with the greatest ratio. On pale cloth
 * the field is lit and the lines are not, so that the hands and blades are lit too.
 * @param {string} cloth
 * @param {number} room
 * @returns {(Ways & {ratio: number})[]}
 */
export function ways(cloth, room) {
  const pale = WEIGHTS.reduce((sum, w, i) => sum + w * linear(cloth)[i], 0) > 0.4;
  /** @type {Ways["ground"][]} */
  const grounds = pale ? ["unlit lines", "lit lines"] : ["lit lines", "unlit lines"];
  return grounds
    .flatMap((ground) => LIGHTS.map((l) => ({ ground, light: l.name, ratio: contrast(cloth, l.css, room) })))
    .sort((a, b) => grounds.indexOf(a.ground) - grounds.indexOf(b.ground) || b.ratio - a.ratio);
}

/**
 * The ratio in words.
 * @param {number} ratio
 */
export function contrastWords(ratio) {
  const figure = `${ratio < 10 ? ratio.toFixed(1) : Math.round(ratio)} : 1`;
  if (ratio >= 2 * ENOUGH) return `${figure}, easy to follow`;
  if (ratio >= ENOUGH) return `${figure}, enough`;
  return `${figure}, too little: take light out of the room, or chalk the line before cutting`;
}
