// The cloth under the pieces: its edges, folds and grain, and where nothing may be cut. Pure.

import { arrow, box, clipLine, dashes } from "./lines.js";
import { foldItems, layer, words } from "./scene.js";

/** @typedef {import("./map.js").TablePoint} Point */
/** @typedef {import("./scene.js").Box} Box */
/** @typedef {import("./scene.js").Item} Item */
/** @typedef {import("./scene.js").Look} Look */
/** @typedef {import("./scene.js").Projection} Projection */
/** @typedef {import("./scene.js").Shade} Shade */
/** @typedef {import("./scene.js").Spread} Spread */
/** @typedef {import("./scene.js").Window} Window */

const GUIDE_DASH = [24, 8, 4, 8];
const EDGE_DASH = [3, 9];

/** Half as wide as the longest words beside an edge, mm, at the least height. */
const LEAST_WORD_MM = 130;
const FLAW_DASH = [7, 5];
const HOLE_DASH = [4, 10];

/**
 * Cloth as it should lie: its outline, selvedges, squared end, folds, and guide lines along the grain.
 * @param {Projection} projection
 * @param {Window} window
 * @param {{shade: Shade, look: Look, guides: boolean}} how
 * @returns {Item[]}
 */
export function clothItems(projection, window, { shade, look, guides }) {
  const spread = projection.spreads.find((s) => s.id === window.spread);
  if (!spread) return [];
  const lay = layer(window);
  const clip = window.box;
  /** @type {Item[]} */
  const items = [];
  /** @param {Point[]} line @param {number[]} pattern @param {number} width */
  const dashed = (line, pattern, width) => {
    for (const dash of dashes({ points: line, closed: false }, pattern)) {
      for (const part of clipLine(dash, clip)) items.push({ kind: "path", points: lay(part), width, shade });
    }
  };
  for (const line of spread.selvedges) dashed(line, GUIDE_DASH, 2);
  for (const [a, b] of spread.fold_lines) items.push(...foldItems([a, b], clip, lay, shade, 2));
  if (spread.squared_end) dashed(spread.squared_end, GUIDE_DASH, 2);
  for (const { line } of spread.edges) dashed(line, GUIDE_DASH, 2);
  if (guides) {
    const [x0, y0, x1, y1] = window.box;
    for (let i = 1; i <= 3; i += 1) {
      const y = y0 + ((y1 - y0) * i) / 4;
      // Where selvedges meet or a ply ends there is a line along the grain already.
      if (spread.edges.some(({ line: [a, b] }) => a[1] === b[1] && Math.abs(a[1] - y) < 2 * look.cap_mm)) continue;
      dashed([[x0 + 20, y], [x1 - 20, y]], [40, 10], 1.5);
      const { heads } = arrow([x0 + 20, y], [x1 - 20, y], { size: 25, both: true });
      for (const head of heads) items.push({ kind: "area", rings: [lay(head)], shade });
      if (x1 - x0 >= LEAST_WORD_MM) items.push(words(["grain"], lay([[(x0 + x1) / 2, y + 8]])[0], look, shade));
    }
    for (const [at, said] of clothWords(spread, window)) items.push(words([said], lay([at])[0], look, shade));
  }
  for (const edge of innerEdges(window.box, spread.box)) dashed(edge, EDGE_DASH, 2);
  return items;
}

/**
 * Where nothing may be cut: flaws, crossed out, and holes that were cut before.
 * @param {Point[][]} outlines  cloth mm
 * @param {Window} window
 * @param {{said: string, marked: boolean, shade: Shade, look: Look}} how  marked = crossed out
 * @returns {Item[]}
 */
export function obstacleItems(outlines, window, { said, marked, shade, look }) {
  const lay = layer(window);
  const clip = window.box;
  return outlines.flatMap((outline) => {
    /** @type {Item[]} */
    const items = [];
    const [x0, y0, x1, y1] = box(outline);
    const strokes = [
      ...dashes({ points: outline, closed: true }, marked ? FLAW_DASH : HOLE_DASH),
      ...(marked ? [[[x0, y0], [x1, y1]], [[x0, y1], [x1, y0]]].map((s) => /** @type {Point[]} */ (s)) : []),
    ];
    for (const stroke of strokes) {
      for (const part of clipLine(stroke, clip)) items.push({ kind: "path", points: lay(part), width: marked ? 3 : 2, shade });
    }
    if (!items.length) return [];
    // Beside a small flaw, on the side that is lit; in the middle of what is seen of a large hole.
    const [sx0, sy0, sx1, sy1] = [Math.max(x0, clip[0]), Math.max(y0, clip[1]), Math.min(x1, clip[2]), Math.min(y1, clip[3])];
    const off = look.cap_mm * 0.7;
    const above = y1 + off + look.cap_mm < clip[3] ? y1 + off : y0 - off - look.cap_mm;
    /** @type {Point} */
    const at = [(sx0 + sx1) / 2, marked ? above : (sy0 + sy1) / 2];
    items.push(words([said], lay([at])[0], look, shade));
    return items;
  });
}

/**
 * What the cloth was known to lack before anything was laid: flaws crossed out, missing cloth hatched.
 * @param {Projection} projection
 * @param {Window} window
 * @param {{shade: Shade, look: Look}} how
 * @returns {Item[]}
 */
export function lackItems(projection, window, { shade, look }) {
  const lacks = projection.spreads.find((s) => s.id === window.spread)?.lacks ?? [];
  const of = (/** @type {string} */ kind) => lacks.filter((l) => l.kind === kind).map((l) => l.outline);
  const lay = layer(window);
  return [
    ...obstacleItems(of("flaw"), window, { said: "flaw", marked: true, shade, look }),
    ...of("missing").flatMap((outline) => hatching(outline, HATCH_MM).flatMap((line) => clipLine(line, window.box).map((part) => /** @type {Item} */ ({ kind: "path", points: lay(part), width: 1.5, shade })))),
    ...obstacleItems(of("missing"), window, { said: "no cloth here", marked: false, shade, look }),
  ];
}

/** Between the lines of a hatching, mm. */
const HATCH_MM = 60;

/**
 * Slanted lines through a convex outline.
 * @param {Point[]} outline
 * @param {number} step mm across the lines' feet
 * @returns {Point[][]}
 */
export function hatching(outline, step) {
  const feet = outline.map(([x, y]) => x - y);
  /** @type {Point[][]} */
  const found = [];
  for (let foot = Math.min(...feet) + step / 2; foot < Math.max(...feet); foot += step) {
    /** @type {Point[]} */
    const ends = [];
    for (let i = 0; i < outline.length; i += 1) {
      const j = (i + 1) % outline.length;
      const [a, b] = [feet[i] - foot, feet[j] - foot];
      if (a * b >= 0) continue;
      const t = a / (a - b);
      ends.push([outline[i][0] + (outline[j][0] - outline[i][0]) * t, outline[i][1] + (outline[j][1] - outline[i][1]) * t]);
    }
    if (ends.length === 2) found.push(ends);
  }
  return found;
}

/** Sides of the window beyond which there is more cloth. @param {Box} window @param {Box} spread @returns {Point[][]} */
function innerEdges([x0, y0, x1, y1], spread) {
  /** @type {Point[][]} */
  const edges = [];
  if (x0 > spread[0] + 1) edges.push([[x0, y0], [x0, y1]]);
  if (x1 < spread[2] - 1) edges.push([[x1, y0], [x1, y1]]);
  if (y0 > spread[1] + 1) edges.push([[x0, y0], [x1, y0]]);
  if (y1 < spread[3] - 1) edges.push([[x0, y1], [x1, y1]]);
  return edges;
}

/**
 * Words beside the cloth's own edges, with their places: middles of lines of words, cloth mm.
 * @param {Spread} spread
 * @param {Window} window
 * @returns {[Point, string][]}
 */
function clothWords(spread, window) {
  const [x0, y0, x1, y1] = window.box;
  // A short stretch of cloth leaves bare table on its right: words may stand there.
  const x = Math.max(x0 + (x1 - x0) * 0.5, x0 + LEAST_WORD_MM);
  /** @type {[Point, string][]} */
  const said = [];
  /** @param {[Point, Point]} line @param {string} what @param {number} share  up an upright line */
  const beside = ([a, b], what, share) => {
    if (a[1] === b[1]) {
      if (a[1] >= y0 - 1 && a[1] <= y1 + 1) said.push([[x, a[1] > (y0 + y1) / 2 ? a[1] - 28 : a[1] + 12], what]);
    } else if (a[0] >= x0 - 1 && a[0] <= x1 + 1) {
      said.push([[a[0] > x0 + 2 * LEAST_WORD_MM ? a[0] - LEAST_WORD_MM : a[0] + LEAST_WORD_MM, y0 + (y1 - y0) * share], what]);
    }
  };
  for (const line of spread.selvedges) beside(line, "selvedge here", 0);
  for (const line of spread.fold_lines) beside(line, "fold here: do not cut", 0.38);
  if (spread.squared_end) beside(spread.squared_end, "squared end here", 0.62);
  for (const { line, said: what } of spread.edges) beside(line, what, 0.62);
  return said;
}
