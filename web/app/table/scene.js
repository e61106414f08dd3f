// What is lit, as shapes in table mm: from a projection and the state of the walk. Pure.

import { after, applyMatrix, pxPerMm } from "./map.js";
import { needed } from "./sleeve.js";
import { arrow, band, box, clipLine, dashes, hatch, inBox, inRing, notchStrokes, openAtFold } from "./lines.js";

/** @typedef {import("./map.js").TablePoint} Point */
/** @typedef {import("./map.js").TableMap} TableMap */
/** @typedef {[number, number, number, number]} Box x0, y0, x1, y1 */

/**
 * Piece of cloth to be cut; lines in cloth mm, counter-clockwise.
 * @typedef {object} Piece
 * @property {string} key
 * @property {string} label
 * @property {string} piece
 * @property {("drawn" | "turned")[]} hands  what this one cutting yields
 * @property {string} hand_text
 * @property {number} plies
 * @property {Box} box
 * @property {[Point, Point] | null} fold_line
 * @property {Point} label_at
 * @property {number} label_room_mm
 * @property {Point[]} cut_line
 * @property {Point[]} net_line
 * @property {[Point, Point]} grain
 * @property {string} grain_rule
 * @property {{at: Point, tip: Point, marks: number}[]} notches
 * @property {{kind: string, points: Point[], name: string}[]} marks
 */

/**
 * @typedef {object} Window
 * @property {number} index
 * @property {string} spread
 * @property {Box} box
 * @property {number[][]} table_from_cloth
 * @property {string[]} whole
 * @property {{key: string, sides: string[]}[]} part
 * @property {string[]} first
 * @property {Point[]} crosses
 */

/**
 * @typedef {object} Spread
 * @property {string} id
 * @property {Box} box
 * @property {Point[]} outline
 * @property {string} plies_text
 * @property {[Point, Point][]} fold_lines
 * @property {[Point, Point][]} selvedges
 * @property {[Point, Point] | null} squared_end
 */

/**
 * @typedef {object} Projection
 * @property {Box} room
 * @property {Box} strip
 * @property {Spread[]} spreads
 * @property {Window[]} windows
 * @property {Piece[]} pieces
 * @property {string[]} order
 */

/** Shade of a shape: full light, the rest's, the ground, or a colour of its own. @typedef {"line" | "dim" | "ground" | `#${string}`} Shade */

/**
 * @typedef {{kind: "area", rings: Point[][], shade: Shade}
 *   | {kind: "path", points: Point[], closed?: boolean, width: number, shade: Shade}
 *   | {kind: "text", lines: string[], at: Point, cap: number, turn: number, anchor: "start" | "middle" | "end", shade: Shade}} Item
 */

/**
 * @typedef {object} Look  how the person wants it
 * @property {number} width_mm  of a cutting line
 * @property {boolean} net  net lines too
 * @property {boolean} turned  words face the far side
 * @property {number} cap_mm  height of capitals
 */

/**
 * @typedef {object} Pens  what drawing needs to know of the surface
 * @property {TableMap} map
 * @property {(text: string, cap_mm: number) => number} measure  width of a text in mm
 */

/** Thinnest line that keeps its place on a projector's pixels, px (thinner ones shift with gamma). */
export const LEAST_PX = 2;

/** Smallest capitals that can be read on the cloth while standing, mm. */
export const LEAST_CAP_MM = 15;

/** From one line of words to the next, and the tails of letters below it, in heights of capitals. */
export const LINE = 1.7;
const TAIL = 0.3;

/** Words keep this far from the cut line, mm: the eye follows the line, not the letters. */
const CLEAR_MM = 4;

/** What bends by less than this is drawn straight, px. */
const UNSEEN_PX = 0.05;

const NET_DASH = [9, 6];
const GUIDE_DASH = [24, 8, 4, 8];
const EDGE_DASH = [3, 9];
const FOLD_DASH = [20, 6, 4, 6];

/**
 * A width in mm that is nowhere thinner than LEAST_PX along `points`.
 * @param {TableMap} map
 * @param {Point[]} points  table mm
 * @param {number} width_mm
 */
export function lineWidth(map, points, width_mm) {
  const step = Math.max(1, Math.floor(points.length / 24));
  let least = Infinity;
  for (let i = 0; i < points.length; i += step) {
    if (map.reaches(points[i])) least = Math.min(least, pxPerMm(map, points[i])[0]);
  }
  return Number.isFinite(least) ? Math.max(width_mm, LEAST_PX / least) : width_mm;
}

/**
 * The shapes of one piece in one window.
 * @param {Piece} piece
 * @param {Window} window
 * @param {{count: string, shade: Shade, look: Look, pens: Pens, approved?: boolean, done?: boolean, alone?: boolean, elsewhere?: number}} how
 *   count such as "3 of 11"; not approved = dashed, so that nobody cuts by it; done = already cut;
 *   alone = drawn over the rest, with its own piece of the fold; elsewhere = number of the window
 *   in which it is shown whole, and cut
 * @returns {Item[]}
 */
export function pieceItems(piece, window, { count, shade, look, pens, approved = true, done = false, alone = false, elsewhere = 0 }) {
  const lay = layer(window);
  const clip = window.box;
  const cut = openAtFold(piece.cut_line, piece.fold_line);
  const canvas = after(pens.map.matrix, window.table_from_cloth);
  const seen = stretches(cut, clip).map(({ points, closed }) => ({ points: needed(points, closed, canvas, UNSEEN_PX), closed }));
  const width = lineWidth(pens.map, lay(seen.flatMap((s) => s.points)), look.width_mm);
  /** @type {Item[]} */
  const items = [];
  const plain = approved && !done && !elsewhere;
  for (const stretch of seen) {
    // A neighbour's light on this side of a shared cut would hide the edge: the inside stays unlit.
    if (alone) items.push({ kind: "area", rings: band(backwards(stretch), width + 1).map(lay), shade: "ground" });
    const parts = plain ? [stretch] : dashes(stretch, done ? [4, 10] : [14, 10]).map((points) => ({ points, closed: false }));
    for (const part of parts) items.push({ kind: "area", rings: band(part, width).map(lay), shade });
  }
  if (piece.fold_line && alone) items.push(...foldItems(piece.fold_line, clip, lay, shade, width));
  if (!done && !elsewhere) items.push(...innerItems(piece, clip, lay, shade, look, width));
  const sides = done || elsewhere ? [] : (window.part.find((p) => p.key === piece.key)?.sides ?? []);
  items.push(...bars(sides, window, seen, lay, shade));
  items.push(...labelItems(piece, window, lay, { choices: labelChoices(piece, { count, done, elsewhere, sides }), shade, look, pens }));
  return items;
}

/**
 * What a label may say, the fullest first.
 * @param {Piece} piece
 * @param {{count: string, done: boolean, elsewhere: number, sides: string[]}} how
 * @returns {string[][]}
 */
function labelChoices(piece, { count, done, elsewhere, sides }) {
  const number = count.split(" ")[0];
  if (done) return [[piece.label, "cut"], ["cut"]];
  if (elsewhere) return [[piece.label, `in window ${elsewhere}`], [`window ${elsewhere}`], [number]];
  const ply = piece.plies === 1 ? "one ply" : `${piece.plies} plies`;
  const goesOn = sides.some((s) => s === "x1" || s === "y1");
  const begun = sides.some((s) => s === "x0" || s === "y0");
  const more = begun && goesOn ? "begun before, goes on" : goesOn ? "goes on" : begun ? "begun before" : "";
  const rest = more ? [more] : [];
  return [
    [piece.label, `${piece.hand_text}, ${ply}`, count, ...rest],
    [piece.label, piece.hand_text, count, ...rest],
    [`${number} ${piece.label}`, piece.hand_text, ...rest],
    [`${number} ${piece.label}`, ...rest],
    [more ? `${number} ${more}` : `${number} ${piece.label}`],
    [number],
  ];
}

/** The line the other way round: its band then lies inside. @param {import("./lines.js").Line} line @returns {import("./lines.js").Line} */
function backwards({ points, closed }) {
  return { points: [...points].reverse(), closed };
}

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
  if (guides) {
    const [x0, y0, x1, y1] = window.box;
    for (let i = 1; i <= 3; i += 1) {
      const y = y0 + ((y1 - y0) * i) / 4;
      dashed([[x0 + 20, y], [x1 - 20, y]], [40, 10], 1.5);
      const { heads } = arrow([x0 + 20, y], [x1 - 20, y], { size: 25, both: true });
      for (const head of heads) items.push({ kind: "area", rings: [lay(head)], shade });
      items.push(words(["grain"], lay([[(x0 + x1) / 2, y + 8]])[0], look, shade));
    }
    for (const [at, said] of clothWords(spread, window)) items.push(words([said], lay([at])[0], look, shade));
  }
  for (const edge of innerEdges(window.box, spread.box)) dashed(edge, EDGE_DASH, 2);
  return items;
}

const FLAW_DASH = [7, 5];
const HOLE_DASH = [4, 10];

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
 * Crosses with letters, for chalk: 60 mm long, open in the middle so that the chalk mark shows.
 * @param {Point[]} crosses  cloth mm
 * @param {Window} window
 * @param {{shade: Shade, look: Look}} how
 * @returns {Item[]}
 */
export function crossItems(crosses, window, { shade, look }) {
  const lay = layer(window);
  return crosses.flatMap(([x, y], i) => {
    /** @type {Item[]} */
    const items = [[[x - 30, y], [x - 3, y]], [[x + 3, y], [x + 30, y]], [[x, y - 30], [x, y - 3]], [[x, y + 3], [x, y + 30]]]
      .map((stroke) => ({ kind: "path", points: lay(/** @type {Point[]} */ (stroke)), width: 2, shade }));
    items.push(words([String.fromCharCode(80 + i)], lay([[x + 20, y + 20]])[0], look, shade));
    return items;
  });
}

/**
 * A line of known length with ticks at its ends; its outer tick edges are the ends.
 * @param {{from: Point, to: Point, label: string}} line  table mm
 * @param {{shade: Shade, look: Look}} how
 * @returns {Item[]}
 */
export function checkItems({ from, to, label }, { shade, look }) {
  const length = Math.hypot(to[0] - from[0], to[1] - from[1]);
  const [ux, uy] = [(to[0] - from[0]) / length, (to[1] - from[1]) / length];
  /** @param {Point} p @param {number} along @param {number} across @returns {Point} */
  const off = (p, along, across) => [p[0] + along * ux - across * uy, p[1] + along * uy + across * ux];
  /** @type {Item[]} */
  const items = [];
  for (const [end, inward] of /** @type {[Point, number][]} */ ([[from, 1], [to, -1]])) {
    const tick = [off(end, 0, -20), off(end, 2 * inward, -20), off(end, 2 * inward, 20), off(end, 0, 20)];
    items.push({ kind: "area", rings: [tick], shade });
  }
  items.push({ kind: "path", points: [off(from, 2, 0), off(to, -2, 0)], width: 1, shade });
  const turn = Math.atan2(uy, ux);
  const upright = turn > Math.PI / 2 + 1e-9 || turn < -Math.PI / 2 + 1e-9 ? turn + Math.PI : turn;
  const middle = off([(from[0] + to[0]) / 2, (from[1] + to[1]) / 2], 0, turn === upright ? 10 : -10);
  items.push({
    kind: "text", lines: [label], at: look.turned ? off(middle, 0, -20) : middle, cap: look.cap_mm,
    turn: upright + (look.turned ? Math.PI : 0), anchor: "middle", shade,
  });
  return items;
}

/**
 * Line samples to judge by eye on the cloth: each light in each width, lit on unlit and unlit on lit.
 * @param {Box} room
 * @param {{name: string, css: string}[]} lights
 * @param {{look: Look}} how
 * @returns {Item[]}
 */
export function stripItems(room, lights, { look }) {
  const widths = [1, 1.5, 2, 3];
  /** @type {Item[]} */
  const items = [];
  const [w, h] = [(room[2] - room[0]) / lights.length, 130];
  const top = (room[1] + room[3]) / 2 + h + 20;
  lights.forEach((light, column) => {
    const x = room[0] + column * w + 10;
    for (const lit of [false, true]) {
      const y = lit ? top - 2 * h - 40 : top - h;
      const css = /** @type {Shade} */ (light.css);
      if (lit) items.push({ kind: "area", rings: [boxRing([x, y, x + w - 20, y + h])], shade: css });
      const shade = /** @type {Shade} */ (lit ? "#000000" : css);
      widths.forEach((width, i) => {
        const at = y + 20 + i * 26;
        items.push({ kind: "path", points: [[x + 10, at], [x + w * 0.6, at]], width, shade });
        items.push({ kind: "text", lines: [`${width} mm`], at: [x + w * 0.63, at - 6], cap: look.cap_mm, turn: 0, anchor: "start", shade });
      });
    }
    items.push({ kind: "text", lines: [light.name], at: [x + 10, top + 12], cap: look.cap_mm, turn: 0, anchor: "start", shade: /** @type {Shade} */ (light.css) });
  });
  return items;
}

/** Ring of a box, counter-clockwise. @param {Box} b @returns {Point[]} */
export function boxRing([x0, y0, x1, y1]) {
  return [[x0, y0], [x1, y0], [x1, y1], [x0, y1]];
}

/** Cloth mm to table mm in a window. @param {Window} window @returns {(points: Point[]) => Point[]} */
function layer(window) {
  return (points) => points.map((p) => applyMatrix(window.table_from_cloth, p));
}

/**
 * The stretches of a line inside the window; the whole line, closed, when all of it is.
 * @param {import("./lines.js").Line} line
 * @param {Box} clip
 * @returns {import("./lines.js").Line[]}
 */
function stretches(line, clip) {
  const within = clipLine(line.closed ? [...line.points, line.points[0]] : line.points, clip);
  if (!line.closed) return within.map((points) => ({ points, closed: false }));
  if (within.length === 1 && within[0].length === line.points.length + 1) return [line];
  // Start where the line is outside, so that no stretch is broken at the first point.
  const [x0, y0, x1, y1] = clip;
  const out = line.points.findIndex(([x, y]) => x < x0 || x > x1 || y < y0 || y > y1);
  const from = Math.max(out, 0);
  const turned = [...line.points.slice(from), ...line.points.slice(0, from + 1)];
  return clipLine(turned, clip).map((points) => ({ points, closed: false }));
}

/**
 * @param {[Point, Point]} fold
 * @param {Box} clip
 * @param {(points: Point[]) => Point[]} lay
 * @param {Shade} shade
 * @param {number} width
 * @returns {Item[]}
 */
function foldItems(fold, clip, lay, shade, width) {
  const [visible] = clipLine(fold, clip);
  if (!visible) return [];
  const [a, b] = [visible[0], visible[visible.length - 1]];
  /** @type {Item[]} */
  const items = dashes({ points: [a, b], closed: false }, FOLD_DASH)
    .map((points) => ({ kind: "path", points: lay(points), width, shade }));
  // Cloth lies on the left of a fold line, so the hatch goes to the right: onto the bare table.
  for (const stroke of hatch(a, b, { every: 40, length: 14 })) items.push({ kind: "path", points: lay(stroke), width: width * 0.75, shade });
  return items;
}

/**
 * @param {Piece} piece
 * @param {Box} clip
 * @param {(points: Point[]) => Point[]} lay
 * @param {Shade} shade
 * @param {Look} look
 * @param {number} width
 * @returns {Item[]}
 */
function innerItems(piece, clip, lay, shade, look, width) {
  /** @type {Item[]} */
  const items = [];
  /** @param {Point[]} line @param {number} w */
  const draw = (line, w) => {
    for (const part of clipLine(line, clip)) items.push({ kind: "path", points: lay(part), width: w, shade });
  };
  if (look.net && piece.net_line.length > 2) {
    for (const dash of dashes({ points: piece.net_line, closed: true }, NET_DASH)) draw(dash, width * 0.5);
  }
  for (const notch of piece.notches) for (const stroke of notchStrokes(notch)) draw(stroke, width);
  const both = piece.grain_rule !== "one way";
  const { shaft, heads } = arrow(piece.grain[0], piece.grain[1], { size: 22, both });
  draw(shaft, width * 0.75);
  for (const head of heads) if (head.every((p) => inBox(p, clip))) items.push({ kind: "area", rings: [lay(head)], shade });
  for (const mark of piece.marks) {
    if (mark.points.length === 1) {
      const [x, y] = mark.points[0];
      draw([[x - 6, y - 6], [x + 6, y + 6]], width * 0.75);
      draw([[x - 6, y + 6], [x + 6, y - 6]], width * 0.75);
    } else {
      for (const dash of dashes({ points: mark.points, closed: false }, [16, 5, 3, 5])) draw(dash, width * 0.5);
    }
  }
  return items;
}

/**
 * @param {Piece} piece
 * @param {Window} window
 * @param {(points: Point[]) => Point[]} lay
 * @param {{choices: string[][], shade: Shade, look: Look, pens: Pens}} how
 * @returns {Item[]}
 */
function labelItems(piece, window, lay, { choices, shade, look, pens }) {
  const cap = Math.max(look.cap_mm, LEAST_CAP_MM);
  const marks = piece.marks.flatMap((m) => m.points);
  const outline = thinned(piece.cut_line);
  const spots = places(piece, outline, window);
  const rooms = spots.map((at) => nearest(at, outline));
  for (const lines of choices) {
    const wide = Math.max(...lines.map((l) => pens.measure(l, cap))) + cap * 0.4;
    const high = ((lines.length - 1) * LINE + 1 + TAIL) * cap;
    for (const [i, at] of spots.entries()) {
      // A corner of the cut line nearer than the block is high lies in it: no need to look further.
      if (rooms[i] < Math.min(wide, high) / 2) continue;
      for (const turn of [0, Math.PI / 2]) {
        const ring = tilted(at, wide, high, turn);
        const rim = tilted(at, wide + 2 * CLEAR_MM, high + 2 * CLEAR_MM, turn);
        if (!fits(rim, outline, window.box)) continue;
        if (marks.some((m) => inRing(m, ring))) continue;
        return [{ kind: "area", rings: [lay(ring)], shade: "ground" }, ...stack(lines, lay([at])[0], turn, cap, look, shade)];
      }
    }
  }
  const [at] = spots;
  return at ? stack(choices[choices.length - 1], lay([at])[0], 0, cap, look, shade) : [];
}

/**
 * Lines of words round a middle, table mm.
 * @param {string[]} lines
 * @param {Point} at
 * @param {number} turn
 * @param {number} cap
 * @param {Look} look
 * @param {Shade} shade
 * @returns {Item[]}
 */
function stack(lines, at, turn, cap, look, shade) {
  const way = turn + (look.turned ? Math.PI : 0);
  const down = ((lines.length - 1) * LINE + 1 + TAIL) * cap * 0.5;
  // The first baseline: half the block above the middle, less the first line's own capitals.
  const up = down - cap;
  return [{ kind: "text", lines, at: [at[0] - Math.sin(way) * up, at[1] + Math.cos(way) * up], cap, turn: way, anchor: "middle", shade }];
}

/**
 * Places for a label in what is seen of a piece, best first, in cloth mm.
 * @param {Piece} piece
 * @param {Point[]} outline  its cut line, thinned
 * @param {Window} window
 * @returns {Point[]}
 */
function places(piece, outline, window) {
  const [x0, y0] = [Math.max(window.box[0], piece.box[0]), Math.max(window.box[1], piece.box[1])];
  const [x1, y1] = [Math.min(window.box[2], piece.box[2]), Math.min(window.box[3], piece.box[3])];
  const [mx, my] = [(x0 + x1) / 2, (y0 + y1) / 2];
  const [lx, ly] = piece.label_at;
  /** @type {[number, Point][]} */
  const found = [];
  /** @param {Point} p @param {number} favour */
  const add = (p, favour) => {
    if (p[0] <= x0 || p[0] >= x1 || p[1] <= y0 || p[1] >= y1 || !inRing(p, outline)) return;
    const room = Math.min(p[0] - x0, x1 - p[0], p[1] - y0, y1 - p[1], nearest(p, outline));
    // Room first; of equal room the place nearest the middle, as one would write it by hand.
    found.push([favour * room - 0.2 * Math.hypot(p[0] - mx, p[1] - my), p]);
  };
  add([lx, ly], 1);
  add([mx, my], 1.5);
  for (let i = 1; i < 8; i += 1) for (let j = 1; j < 8; j += 1) add([x0 + ((x1 - x0) * i) / 8, y0 + ((y1 - y0) * j) / 8], 1);
  return found.sort((a, b) => b[0] - a[0]).slice(0, 8).map(([, p]) => p);
}

/** A ring without the points that lie close behind another: words keep further off than that. @param {Point[]} ring @returns {Point[]} */
function thinned(ring) {
  let [kx, ky] = [Infinity, Infinity];
  return ring.filter(([x, y]) => {
    if (Math.hypot(x - kx, y - ky) < CLEAR_MM / 2) return false;
    [kx, ky] = [x, y];
    return true;
  });
}

/** Distance from the nearest corner of a ring: near enough to rank places. @param {Point} p @param {Point[]} ring */
function nearest(p, ring) {
  let least = Infinity;
  for (const [x, y] of ring) {
    const d = (x - p[0]) ** 2 + (y - p[1]) ** 2;
    if (d < least) least = d;
  }
  return Math.sqrt(least);
}

/** @param {Point} at @param {number} w @param {number} h @param {number} turn @returns {Point[]} */
function tilted(at, w, h, turn) {
  const [c, s] = [Math.cos(turn), Math.sin(turn)];
  return boxRing([-w / 2, -h / 2, w / 2, h / 2]).map(([x, y]) => [at[0] + c * x - s * y, at[1] + s * x + c * y]);
}

/** Does a box lie inside a ring and a window? Sides are sampled. @param {Point[]} ring @param {Point[]} within @param {Box} window */
function fits(ring, within, window) {
  for (let i = 0; i < ring.length; i += 1) {
    const [a, b] = [ring[i], ring[(i + 1) % ring.length]];
    for (let t = 0; t < 8; t += 1) {
      /** @type {Point} */
      const p = [a[0] + ((b[0] - a[0]) * t) / 8, a[1] + ((b[1] - a[1]) * t) / 8];
      if (p[0] < window[0] || p[0] > window[2] || p[1] < window[1] || p[1] > window[3]) return false;
      if (!inRing(p, within)) return false;
    }
  }
  return !within.some((p) => inRing(p, ring));
}

/**
 * Where a piece goes on beyond the window: a bar across each break of its cut line.
 * @param {string[]} sides
 * @param {Window} window
 * @param {import("./lines.js").Line[]} seen
 * @param {(points: Point[]) => Point[]} lay
 * @param {Shade} shade
 * @returns {Item[]}
 */
function bars(sides, window, seen, lay, shade) {
  const [x0, y0, x1, y1] = window.box;
  /** @type {Record<string, [0 | 1, number]>} */
  const edges = { x0: [0, x0], x1: [0, x1], y0: [1, y0], y1: [1, y1] };
  return sides.flatMap((side) => {
    const [axis, level] = edges[side];
    const ends = seen.flatMap((s) => (s.closed ? [] : [s.points[0], s.points[s.points.length - 1]]));
    return ends.filter((p) => Math.abs(p[axis] - level) < 0.5).map((p) => {
      const at = p[1 - axis];
      /** @type {Point[]} */
      const bar = axis === 0 ? [[level, at - 12], [level, at + 12]] : [[at - 12, level], [at + 12, level]];
      return /** @type {Item} */ ({ kind: "path", points: lay(bar), width: 5, shade });
    });
  });
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

/** Words beside the cloth's own edges, with their places. @param {Spread} spread @param {Window} window @returns {[Point, string][]} */
function clothWords(spread, window) {
  const [x0, y0, x1, y1] = window.box;
  const x = x0 + (x1 - x0) * 0.5;
  /** @type {[Point, string][]} */
  const said = [];
  for (const [a] of spread.selvedges) {
    if (a[1] >= y0 - 1 && a[1] <= y1 + 1) said.push([[x, a[1] > (y0 + y1) / 2 ? a[1] - 28 : a[1] + 12], "selvedge here"]);
  }
  for (const [a, b] of spread.fold_lines) {
    if (a[1] === b[1] && a[1] >= y0 - 1 && a[1] <= y1 + 1) said.push([[x, a[1] > (y0 + y1) / 2 ? a[1] - 28 : a[1] + 12], "fold here: do not cut"]);
  }
  if (spread.squared_end && spread.squared_end[0][0] >= x0 - 1) said.push([[x0 + 150, y0 + (y1 - y0) * 0.62], "squared end at the left"]);
  return said;
}

/** @param {string[]} lines @param {Point} at @param {Look} look @param {Shade} shade @returns {Item} */
function words(lines, at, look, shade) {
  return { kind: "text", lines, at, cap: look.cap_mm, turn: look.turned ? Math.PI : 0, anchor: "middle", shade };
}
