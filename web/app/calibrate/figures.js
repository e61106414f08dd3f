// What is known of a map's error, in sentences: for the verdict and wherever a map is chosen.

/** @typedef {{rms_mm: number, p95_mm: number, max_mm: number, noise_ratio: number | null, mm_per_px: number[]}} Accuracy */

/**
 * @typedef {object} Known  what the service says of a map, as far as its figures go
 * @property {string} route  "tape" or "camera"
 * @property {Accuracy | null} accuracy
 * @property {{nominal_mm: number, measured_mm: number, when: string}[]} checks
 * @property {string} created
 * @property {string | null} last_checked
 * @property {[number, number]} canvas
 * @property {number} dpr
 * @property {string} screen
 */

/** Above this ratio of misses to noise something is there that the map does not know. */
const SUSPECT = 1.5;

/** From the upper left of the canvas' near side, as the service lists them. */
const CORNERS = ["near left", "near right", "far right", "far left"];

/**
 * The figures of a map as pairs of what it is and what is known of it.
 * @param {Known} map
 * @param {Intl.DateTimeFormat} [dates]
 * @returns {[string, string][]}
 */
export function figures(map, dates = new Intl.DateTimeFormat(undefined, { dateStyle: "medium", timeStyle: "short" })) {
  /** @param {string} when */
  const date = (when) => dates.format(new Date(when));
  /** @type {[string, string][]} */
  const said = [];
  const known = map.accuracy;
  if (known) {
    said.push(["Lines are off by", `${mm(known.rms_mm)} on average, less than ${mm(known.p95_mm)} on nineteen parts of twenty, ${mm(known.max_mm)} at the worst place`]);
    said.push(["One point of light", `is ${spread(known.mm_per_px)} on the table`]);
    said.push(["Read against each other", agreement(map.route, known.noise_ratio)]);
  } else {
    said.push(["Lines are off by", "nobody knows how much: calibrate again"]);
  }
  said.push(["Verified by tape", verified(map.checks)]);
  said.push(["Made", `${date(map.created)}; ${map.last_checked ? `last checked ${date(map.last_checked)}` : "not checked since"}`]);
  said.push(["Made for", `a picture of ${map.canvas.join(" x ")} px${map.dpr === 1 ? "" : `, zoom ${map.dpr}`}${map.screen ? `, screen ${map.screen}` : ""}`]);
  return said;
}

/** Size of a pixel at the corners, one figure where they are alike. @param {number[]} sizes */
function spread(sizes) {
  const [least, most] = [Math.min(...sizes), Math.max(...sizes)];
  if (most - least < 0.05) return mm(most);
  return sizes.map((size, i) => `${mm(size)} ${CORNERS[i]}`).join(", ");
}

/**
 * How well corners or distances met, against what their own noise would leave.
 * @param {string} route
 * @param {number | null} ratio
 */
export function agreement(route, ratio) {
  const what = route === "tape" ? "the distances" : "the corners in the photographs";
  if (ratio === null) return `${what} were just enough to settle the picture; nothing checks them`;
  if (ratio <= SUSPECT) return `${what} agree as well as they can be read`;
  const cause = route === "tape"
    ? "One was misread, the tape sagged, or the lens bends the picture: measure again, or use nine crosses."
    : "The lens bends light in a way that is not modelled, the sheet was not flat, or something moved: take more photographs, with the sheet in other places.";
  return `${what} disagree ${ratio.toFixed(1)} times as much as they can be read. ${cause}`;
}

/** @param {{nominal_mm: number, measured_mm: number}[]} checks */
function verified(checks) {
  // What is no line (the board laid down again, four marks) has no length.
  checks = checks.filter((c) => c.nominal_mm > 0);
  if (!checks.length) return "no";
  const off = Math.max(...checks.map((c) => Math.abs(c.measured_mm - c.nominal_mm)));
  const lines = checks.length === 1 ? "one line" : `${checks.length} lines`;
  return `yes, ${lines}: off by ${off < 0.05 ? "less than 0.1 mm" : `${mm(off)} at most`}`;
}

/** @param {number} value */
function mm(value) {
  return `${value < 0.095 ? value.toFixed(2) : value.toFixed(1)} mm`;
}
