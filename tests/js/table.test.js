import assert from "node:assert/strict";
import { test } from "node:test";
import { band, beside, clipLine, dashes, hatch, inRing, notchStrokes, openAtFold } from "../../web/app/table/lines.js";
import { contrast, contrastWords, linear, ways } from "../../web/app/table/contrast.js";
import { bestLight, palette, readPrefs, FIRST } from "../../web/app/table/prefs.js";
import { devicePixels, settingChanges } from "../../web/app/table/surface.js";
import { checkedWords } from "../../web/app/table/trust.js";
import { START, commandOf, currentStop, step, stops, walkedThrough } from "../../web/app/table/steps.js";
import { broken, fitted } from "../../web/app/table/draw.js";
import { countText, stripLines } from "../../web/app/table/wording.js";
import { clothItems, obstacleItems } from "../../web/app/table/ground.js";
import { pieceItems } from "../../web/app/table/pieces.js";
import { applyMatrix, tableMap } from "../../web/app/table/map.js";
import { asItLies, crossPlaces, readOffset, registeredWords } from "../../web/app/table/registration.js";
import { needed } from "../../web/app/table/sleeve.js";
import { flawOutline, nowhere, whereOf } from "../../web/app/table/again.js";
import { mayKeep, nextPair, offWords, withReading } from "../../web/app/calibrate/readings.js";
import { coverageItems, halfway } from "../../web/app/calibrate/coverage.js";
import { roomBeside } from "../../web/app/calibrate/crosses.js";
import { agreement, figures } from "../../web/app/calibrate/figures.js";

/** @typedef {[number, number]} P */
const near = (/** @type {number} */ a, /** @type {number} */ b, tolerance = 1e-9) => assert.ok(Math.abs(a - b) <= tolerance, `${a} is not ${b}`);
/** @param {P[]} ring */
const area = (ring) => ring.reduce((sum, [x, y], i) => sum + x * ring[(i + 1) % ring.length][1] - ring[(i + 1) % ring.length][0] * y, 0) / 2;
/** @type {P[]} */
const SQUARE = [[0, 0], [100, 0], [100, 100], [0, 100]];

test("the band's inner rim is the cut line, its outer rim lies outside by the width", () => {
  const [outer, inner] = band({ points: SQUARE, closed: true }, 3);
  assert.deepEqual([...inner].reverse(), SQUARE);
  near(area(outer), 106 * 106);
  assert.ok(area(inner) < 0 && area(outer) > 0, "opposite ways, so that the nonzero rule leaves the inside unlit");
});

test("a sharp point is cut off, a blunt corner is mitred", () => {
  /** @type {P[]} */
  const needle = [[0, 0], [100, -2], [100, 2]];
  const outer = beside(needle, true, 2);
  assert.equal(outer.length, 4);
  assert.ok(Math.min(...outer.map((p) => p[0])) > -3);
});

test("a gap narrower than the band is not bridged at its corner", () => {
  /** @type {P[]} */
  const slit = [[0, 0], [100, 0], [100, 100], [50.4, 100], [50, 20], [49.6, 100], [0, 100]];
  const outer = beside(slit, true, 2);
  assert.ok(outer.some(([x, y]) => x === 50 && y === 20));
});

test("the fold is not cut", () => {
  const open = openAtFold(SQUARE, [[0, 0], [100, 0]]);
  assert.equal(open.closed, false);
  assert.deepEqual(open.points, [[100, 0], [100, 100], [0, 100], [0, 0]]);
  assert.equal(openAtFold(SQUARE, null).closed, true);
  /** @type {P[]} */
  const split = [[0, 0], [40, 0], [100, 0], [100, 100], [0, 100]];
  assert.equal(openAtFold(split, [[0, 0], [100, 0]]).points.length, 4);
});

test("dashes keep the pattern's share of the length and run on round corners", () => {
  const lit = dashes({ points: SQUARE, closed: true }, [7, 4]);
  const total = lit.reduce((sum, d) => sum + d.slice(1).reduce((s, p, i) => s + Math.hypot(p[0] - d[i][0], p[1] - d[i][1]), 0), 0);
  near(total, 256, 1e-6);
  assert.equal(lit.length, 37);
  assert.ok(lit.some((d) => d.length === 3), "one dash turns a corner");
});

test("clipping keeps what is inside, in order", () => {
  /** @type {[number, number, number, number]} */
  const clip = [0, 0, 50, 50];
  const parts = clipLine([[-10, 25], [25, 25], [75, 25], [75, 40], [10, 40]], clip);
  assert.deepEqual(parts, [[[0, 25], [25, 25], [50, 25]], [[50, 40], [10, 40]]]);
  assert.deepEqual(clipLine([[10, 10], [20, 10], [20, 10], [20, 30]], clip), [[[10, 10], [20, 10], [20, 30]]], "a repeated point breaks nothing");
  assert.deepEqual(clipLine([[-5, 50], [-5, 20], [0, 10], [-5, 0]], clip), [], "a touch is nothing");
  assert.deepEqual(clipLine([[60, 60], [70, 70]], clip), []);
});

test("hatch leaves the fold to its right, notches point inwards one for each mark", () => {
  for (const [a, b] of hatch([0, 0], [100, 0], { every: 20, length: 10 })) assert.ok(a[1] === 0 && b[1] < 0);
  const strokes = notchStrokes({ at: [50, 0], tip: [50, 6], marks: 2 });
  assert.equal(strokes.length, 2);
  near(Math.hypot(strokes[0][0][0] - strokes[1][0][0], strokes[0][0][1] - strokes[1][0][1]), 5);
});

test("linear light of sRGB greys (IEC 61966-2-1) and their contrast", () => {
  near(linear("#808080")[0], 0.21586, 1e-5);
  near(linear("#0a0a0a")[0], 0.0030353, 1e-7);
  // White light on any cloth in a room of a tenth of it: (0.1 + 1) / 0.1, whatever the cloth.
  near(contrast("#20242c", "#ffffff", 0.1), 11, 1e-9);
  near(contrast("#ffffff", "#ffffff", 0.1), 11, 1e-9);
  assert.throws(() => linear("crimson"), /A colour looks like/);
});

test("pale cloth gets a lit field, dark cloth lit lines, and a bright room a warning in words", () => {
  assert.equal(ways("#f4f0e6", 0.1)[0].ground, "unlit lines");
  assert.equal(ways("#101010", 0.1)[0].ground, "lit lines");
  assert.match(contrastWords(contrast("#20242c", "#ffffff", 1)), /too little/);
  assert.match(contrastWords(11), /^11 : 1, easy/);
  assert.equal(bestLight({ ...FIRST, cloth: "#f4f0e6" }).ground, "unlit lines");
});

test("line, dimmed line and ground stay apart in lightness in both ways", () => {
  for (const ground of /** @type {const} */ (["lit lines", "unlit lines"])) {
    for (const light of ["white", "yellow", "blue"]) {
      const colours = palette({ ...FIRST, ground, light });
      const lightness = (/** @type {string} */ css) => 0.2126 * linear(css)[0] + 0.7152 * linear(css)[1] + 0.0722 * linear(css)[2];
      const [line, dim, field] = [colours.line, colours.dim, colours.ground].map(lightness);
      const ratio = (/** @type {number} */ a, /** @type {number} */ b) => (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
      assert.ok(ratio(line, field) > 7, `${ground} ${light}`);
      assert.ok(ratio(dim, field) > 1.8 && ratio(line, dim) > 1.8, `${ground} ${light}: ${ratio(dim, field)} ${ratio(line, dim)}`);
    }
  }
});

test("kept settings that make no sense fall back one by one", () => {
  assert.deepEqual(readPrefs(null), FIRST);
  assert.deepEqual(readPrefs("{nonsense"), FIRST);
  assert.deepEqual(readPrefs('{"width_mm": 3, "light": "green", "cap_mm": 2}'), { ...FIRST, width_mm: 3 });
});

test("device pixels are rounded, and a changed picture is told in words", () => {
  assert.deepEqual(devicePixels([1097.6, 617.4], 1.25), [1372, 772]);
  /** @type {import("../../web/app/table/surface.js").ScreenSetting} */
  const made = { canvas: [1920, 1080], dpr: 1, screen: "1920 x 1080" };
  assert.deepEqual(settingChanges(made, made), []);
  assert.equal(settingChanges(made, { canvas: [1920, 969], dpr: 1.25, screen: "1366 x 768" }).length, 3);
  assert.match(settingChanges(made, { ...made, canvas: [1920, 969] })[0], /was 1920 x 1080 px and is 1920 x 969 px/);
});

/** @param {number} index @param {string} spread @param {string[]} first @param {object} [more] */
const win = (index, spread, first, more = {}) => ({
  index, spread, box: /** @type {[number, number, number, number]} */ ([0, 0, 500, 500]), table_from_cloth: [[1, 0, 0], [0, 1, 0], [0, 0, 1]],
  whole: first, part: [], first, crosses: /** @type {P[]} */ ([[10, 10], [20, 200], [10, 400]]), ...more,
});
/** @param {string} key */
const piece = (key) => ({
  key, label: key, hands: /** @type {("drawn" | "turned")[]} */ (["drawn", "turned"]), hand_text: "pair", plies: 2, box: /** @type {[number, number, number, number]} */ ([0, 0, 100, 100]), fold_line: null,
  label_at: /** @type {P} */ ([50, 50]), label_room_mm: 50, cut_line: SQUARE, net_line: /** @type {P[]} */ ([]),
  grain: /** @type {[P, P]} */ ([[10, 50], [90, 50]]), grain_rule: "one way", notches: [], marks: [],
});
/** @type {import("../../web/app/table/scene.js").Projection} */
const LAY = {
  room: [0, 0, 500, 500], strip: [0, -60, 500, 0],
  spreads: [
    { id: "s1", box: [0, 0, 900, 400], outline: [], plies_text: "two plies", fold_lines: [], selvedges: [], squared_end: [[0, 0], [0, 400]], lay_text: "Fold it.", edges: [], across_mm: 900 },
    { id: "s2", box: [900, 0, 1200, 800], outline: [], plies_text: "one ply", fold_lines: [], selvedges: [], squared_end: null, lay_text: "Open the rest out.", edges: [], across_mm: null },
  ],
  windows: [win(0, "s1", ["Back", "Cuff"]), win(1, "s1", ["Front"]), win(2, "s2", ["Collar"])],
  pieces: ["Back", "Cuff", "Front", "Collar"].map(piece), order: ["Back", "Cuff", "Front", "Collar"],
};

/** @param {import("../../web/app/table/steps.js").Command[]} commands */
const walked = (...commands) => commands.reduce((walk, c) => step(walk, c, LAY), START);

test("stops: pieces, then chalk, then the cloth drawn along; the rest is cut off and opened out, not drawn", () => {
  assert.deepEqual(stops(LAY).map((s) => s.kind), ["piece", "piece", "chalk", "along", "piece", "across", "spread", "piece", "end"]);
});

test("nothing is cut before every window was looked at", () => {
  assert.equal(walked("approve", "approve").view, "look");
  assert.equal(walked("approve", "next", "approve").approved, false);
  assert.equal(walked("pieces").view, "guides");
  const done = walked("approve", "next", "next", "approve");
  assert.ok(walkedThrough(done, LAY) && done.approved);
  assert.equal(done.view, "whole");
  assert.equal(done.window, 0);
});

test("next and back walk through pieces and cloth, and stop at the ends", () => {
  let walk = walked("approve", "next", "next", "approve", "pieces");
  assert.equal(step(walk, "back", LAY), walk);
  const seen = [];
  for (let i = 0; i < 12; i += 1) {
    const stop = currentStop(walk, LAY);
    seen.push(stop?.kind === "piece" ? stop.key : stop?.kind);
    walk = step(walk, "next", LAY);
  }
  assert.deepEqual(seen.slice(0, 9), ["Back", "Cuff", "chalk", "along", "Front", "across", "spread", "Collar", "end"]);
  assert.equal(walk.window, 2);
  assert.equal(step(walk, "first", LAY).window, 0);
  assert.equal(currentStop(step(step(walk, "first", LAY), "last", LAY), LAY)?.kind, "end");
});

test("windows move with next and back while everything is shown, and leave at the ends alone", () => {
  const whole = walked("approve", "next", "next", "approve");
  assert.equal(step(whole, "next", LAY).window, 1);
  assert.equal(step(whole, "back", LAY), whole);
  assert.equal(step(whole, "last", LAY).window, 2);
  const pieces = step(step(whole, "next", LAY), "pieces", LAY);
  assert.equal(currentStop(pieces, LAY)?.kind, "piece");
  assert.equal(pieces.window, 1);
});

test("pedals' keys: page keys, arrows, space and Enter", () => {
  for (const key of ["PageDown", "ArrowRight", "ArrowDown", " "]) assert.equal(commandOf({ key }, "piece"), "next");
  for (const key of ["PageUp", "ArrowLeft", "ArrowUp", "Backspace"]) assert.equal(commandOf({ key }, "piece"), "back");
  assert.equal(commandOf({ key: " ", shiftKey: true }, "piece"), "back");
  assert.equal(commandOf({ key: "Enter" }, "piece"), "next");
  assert.equal(commandOf({ key: "Enter" }, "whole"), "pieces");
  assert.equal(commandOf({ key: "Enter" }, "look"), "approve");
  assert.equal(commandOf({ key: "Home" }, "whole"), "first");
  assert.equal(commandOf({ key: "q" }, "whole"), null);
});

test("words: name, hand, ply and place in the order", () => {
  const walk = walked("approve", "next", "next", "approve", "pieces", "next");
  const [first, second] = stripLines(LAY, walk);
  assert.equal(first, "Cuff: pair, 2 plies. 2 of 4.");
  assert.match(second, /Window 1 of 3.*last piece in this window/);
  assert.equal(countText(LAY, "Collar"), "4 of 4");
});

test("words that would run off: whole sentences first, then words; refusals go onto more lines", () => {
  const map = tableMap({ projector_from_table: [[1, 0, 0], [0, -1, 500], [0, 0, 1]], canvas: [500, 500], lens: null });
  const pens = { map, measure: (/** @type {string} */ said, /** @type {number} */ cap) => said.length * cap };
  const said = "Window 1 of 3. It goes on: stop at the bars. Next: Cuff.";
  assert.equal(fitted(said, 1, 60, pens), said);
  assert.equal(fitted(said, 1, 50, pens), "Window 1 of 3. It goes on: stop at the bars.");
  assert.equal(fitted(said, 1, 20, pens), "Window 1 of 3.");
  assert.equal(fitted(said, 1, 12, pens), "Window 1 …");
  const lines = broken("The check line measured 3.1 mm too long", 2, 40, pens);
  assert.equal(lines.join(" "), "The check line measured 3.1 mm too long");
  assert.ok(lines.length > 1 && lines.every((l) => pens.measure(l, 2) <= 40));
});

test("labels stay inside their piece and clear of its cut line", () => {
  const map = tableMap({ projector_from_table: [[1, 0, 0], [0, -1, 500], [0, 0, 1]], canvas: [500, 500], lens: null });
  const pens = { map, measure: (/** @type {string} */ said, /** @type {number} */ cap) => said.length * cap * 0.8 };
  const look = { width_mm: 2, net: false, turned: false, cap_mm: 15 };
  /** @param {P[]} ring @param {string} label */
  const labelled = (ring, label) => {
    const xs = ring.map((p) => p[0]);
    const ys = ring.map((p) => p[1]);
    const box = /** @type {[number, number, number, number]} */ ([Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)]);
    const shown = { ...piece(label), cut_line: ring, box };
    const items = pieceItems(shown, win(0, "s1", [label]), { count: "3 of 11", shade: "line", look, pens });
    const text = items.find((i) => i.kind === "text");
    const ground = items.find((i) => i.kind === "area" && i.shade === "ground");
    assert.ok(text?.kind === "text");
    if (ground?.kind === "area") for (const p of ground.rings[0]) assert.ok(inRing(p, ring));
    return text.lines;
  };
  assert.deepEqual(labelled([[0, 0], [400, 0], [400, 300], [0, 300]], "Front"), ["Front", "pair, 2 plies", "3 of 11"]);
  assert.deepEqual(labelled([[0, 0], [300, 0], [300, 30], [0, 30]], "Strap"), ["3 Strap"]);
  assert.deepEqual(labelled([[0, 0], [30, 0], [30, 300], [0, 300]], "Strap"), ["3 Strap"]);
  assert.deepEqual(labelled([[0, 0], [40, 0], [40, 40], [0, 40]], "Gusset"), ["3"]);
});

test("a piece cut off by the window says that it goes on", () => {
  const map = tableMap({ projector_from_table: [[1, 0, 0], [0, -1, 500], [0, 0, 1]], canvas: [500, 500], lens: null });
  const pens = { map, measure: (/** @type {string} */ said, /** @type {number} */ cap) => said.length * cap * 0.8 };
  const look = { width_mm: 2, net: false, turned: false, cap_mm: 15 };
  /** @type {P[]} */
  const long = [[100, 100], [900, 100], [900, 300], [100, 300]];
  const shown = { ...piece("Train"), cut_line: long, box: /** @type {[number, number, number, number]} */ ([100, 100, 900, 300]), label_at: /** @type {P} */ ([800, 200]) };
  const items = pieceItems(shown, win(0, "s1", ["Train"], { whole: [], part: [{ key: "Train", sides: ["x1"] }] }), { count: "1 of 1", shade: "line", look, pens });
  const said = items.flatMap((i) => (i.kind === "text" ? i.lines : []));
  assert.deepEqual(said, ["Train", "pair, 2 plies", "1 of 1", "goes on"], "in the part that is seen");
  assert.equal(items.filter((i) => i.kind === "path" && i.width === 5).length, 2, "a bar at each end of the cut line");
});

test("alone, the inside of the cut line is unlit before the line is lit", () => {
  const map = tableMap({ projector_from_table: [[1, 0, 0], [0, -1, 500], [0, 0, 1]], canvas: [500, 500], lens: null });
  const pens = { map, measure: (/** @type {string} */ said, /** @type {number} */ cap) => said.length * cap * 0.8 };
  const look = { width_mm: 2, net: false, turned: false, cap_mm: 15 };
  const items = pieceItems(piece("Cuff"), win(0, "s1", ["Cuff"]), { count: "1 of 1", shade: "line", look, pens, alone: true });
  const [unlit, lit] = items;
  assert.ok(unlit.kind === "area" && unlit.shade === "ground" && lit.kind === "area" && lit.shade === "line");
  for (const p of unlit.rings[0]) assert.ok(p[0] >= 3 - 1e-9 && p[0] <= 97 + 1e-9, "3 mm inside");
});

test("offsets are read with their sign, turned for the far side, and the light follows", () => {
  assert.equal(readOffset(" -1,5 mm"), -1.5);
  assert.equal(readOffset("−2"), -2);
  near(readOffset("+1/8 in"), 3.175);
  assert.equal(readOffset(""), 0);
  assert.throws(() => readOffset("a bit"));
  const window = win(1, "s1", [], { table_from_cloth: [[1, 0, 100], [0, 1, 50], [0, 0, 1]] });
  const { lit, chalked } = crossPlaces([[10, 20]], window, [[2, -3]], false);
  assert.deepEqual([lit, chalked], [[[110, 70]], [[112, 67]]]);
  assert.deepEqual(crossPlaces([[10, 20]], window, [[2, -3]], true).chalked, [[108, 73]]);
  const registered = [{ window: 1, map_id: "m", dx_mm: 2, dy_mm: -3, turn_deg: 0, residual_mm: 0.24, matrix: [[1, 0, 2], [0, 1, -3], [0, 0, 1]] }];
  assert.deepEqual(asItLies(window, registered).table_from_cloth, [[1, 0, 102], [0, 1, 47], [0, 0, 1]]);
  assert.equal(asItLies(win(2, "s1", []), registered).table_from_cloth[0][2], 0);
  assert.match(registeredWords(registered[0]), /0\.2 mm left over/);
});

test("readings: corrected in place, asked for in walking order, gone round when they disagree", () => {
  let readings = withReading([], ["A", "B"], " 120.3 cm ");
  assert.deepEqual(nextPair("corners", readings, null), ["B", "C"]);
  readings = withReading(withReading(readings, ["B", "C"], "80 cm"), ["B", "A"], "120.4 cm");
  assert.equal(readings.length, 2);
  assert.equal(readings[0].typed, "120.4 cm");
  assert.equal(withReading(readings, ["A", "B"], "").length, 1);
  const tried = { settled: true, residuals: [], again: /** @type {[string, string][]} */ ([["A", "B"], ["B", "C"]]), checks: 1, p95_mm: 3, words: [] };
  assert.deepEqual(nextPair("corners", readings, tried), ["B", "C"], "A to B was measured twice already");
  assert.equal(mayKeep(tried), false);
  assert.equal(mayKeep({ ...tried, again: [] }), true);
  assert.equal(mayKeep({ ...tried, again: [], checks: 0 }), false);
  assert.equal(offWords(-1.26), "1.3 mm too short");
  assert.equal(offWords(0.01), "agrees");
  assert.equal(offWords(null), "nothing checks it yet");
});

test("a panel keeps clear of a lit line", () => {
  for (const [from, to] of /** @type {[P, P][]} */ ([[[500, 540], [1400, 560]], [[960, 90], [960, 990]], [[600, 900], [1300, 180]], [[600, 180], [1300, 900]]])) {
    const [x, y, w, h] = roomBeside(from, to, [1920, 1080]);
    for (let i = 0; i <= 50; i += 1) {
      const p = [from[0] + ((to[0] - from[0]) * i) / 50, from[1] + ((to[1] - from[1]) * i) / 50];
      assert.ok(!(p[0] > x && p[0] < x + w && p[1] > y && p[1] < y + h), `${from} ${to}`);
    }
  }
});

test("corners left out lie within the tolerance of the line that is drawn, whatever the keystone", () => {
  const matrix = [[1.2, 0.1, 30], [-0.05, -1.1, 900], [0.0001, 0.0002, 1]];
  const circle = Array.from({ length: 900 }, (_, i) => /** @type {[number, number]} */ ([400 + 150 * Math.cos(i / 900 * 2 * Math.PI), 300 + 90 * Math.sin(i / 900 * 2 * Math.PI)]));
  const kept = needed(circle, true, matrix, 0.05);
  assert.ok(kept.length < 200 && kept.length > 20, String(kept.length));
  const px = (/** @type {[number, number]} */ p) => applyMatrix(matrix, p);
  const ring = [...kept, kept[0]].map(px);
  for (const p of circle.map(px)) {
    let least = Infinity;
    for (let i = 0; i + 1 < ring.length; i += 1) {
      const [a, b] = [ring[i], ring[i + 1]];
      const [dx, dy] = [b[0] - a[0], b[1] - a[1]];
      const t = Math.max(0, Math.min(1, ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / (dx * dx + dy * dy)));
      least = Math.min(least, Math.hypot(p[0] - a[0] - t * dx, p[1] - a[1] - t * dy));
    }
    assert.ok(least < 0.05001, String(least));
  }
  const square = /** @type {[number, number][]} */ ([[0, 0], [100, 0], [100, 100], [0, 100]]);
  assert.equal(needed(square, true, matrix, 0.05), square);
});

test("a flaw is said by its middle and its width", () => {
  assert.equal(whereOf([[90, 40], [110, 40], [110, 60], [90, 60]]), "100 mm along, 50 mm across, 20 mm wide");
});

test("flaws are lit crossed out with their word, holes as what was cut, and neither beyond the window", () => {
  const map = { window: { index: 0, spread: "s", box: [0, 0, 1000, 500], table_from_cloth: [[1, 0, 0], [0, 1, 0], [0, 0, 1]], whole: [], part: [], first: [], crosses: [] } };
  const look = { width_mm: 2, net: false, turned: false, cap_mm: 15 };
  const at = (/** @type {number} */ x) => /** @type {[number, number][]} */ ([[x, 100], [x + 40, 100], [x + 40, 140], [x, 140]]);
  const items = obstacleItems([at(100), at(2000)], /** @type {any} */ (map.window), { said: "flaw", marked: true, shade: "line", look: /** @type {any} */ (look) });
  assert.equal(items.filter((i) => i.kind === "text").length, 1);
  assert.ok(items.filter((i) => i.kind === "path").length > 8);
  for (const item of items) if (item.kind === "path") for (const [x] of item.points) assert.ok(x >= 99 && x <= 141);
  const holes = obstacleItems([at(100)], /** @type {any} */ (map.window), { said: "cut out", marked: false, shade: "dim", look: /** @type {any} */ (look) });
  assert.ok(holes.every((i) => i.shade === "dim"));
});

test("where selvedges meet, their words stand alone: no grain guide runs there", () => {
  const window = { ...LAY.windows[0], box: /** @type {[number, number, number, number]} */ ([0, 0, 900, 400]), table_from_cloth: [[1, 0, 0], [0, 1, 0], [0, 0, 1]] };
  /** @param {import("../../web/app/table/scene.js").Spread["edges"]} edges */
  const said = (edges) => clothItems({ ...LAY, spreads: [{ ...LAY.spreads[0], edges }] }, window, { shade: "line", look: /** @type {any} */ ({ cap_mm: 15 }), guides: true })
    .flatMap((item) => (item.kind === "text" ? item.lines : [])).sort();
  assert.deepEqual(said([]), ["grain", "grain", "grain", "squared end here"]);
  assert.deepEqual(said([{ line: [[0, 200], [900, 200]], said: "selvedges meet here" }]), ["grain", "grain", "selvedges meet here", "squared end here"]);
});

test("a flaw's outline holds the whole spot and little more", () => {
  const outline = flawOutline({ along: "100", across: "5 cm", size: "20" });
  assert.ok(outline);
  assert.ok(area(outline) > Math.PI * 100 && area(outline) < 1.1 * Math.PI * 100);
  outline.forEach((p, i) => {
    const q = outline[(i + 1) % outline.length];
    near(Math.hypot((p[0] + q[0]) / 2 - 100, (p[1] + q[1]) / 2 - 50), 10, 1e-9);
  });
  assert.equal(flawOutline({ along: " ", across: "", size: "" }), null);
  assert.throws(() => flawOutline({ along: "100", across: "", size: "20" }), /The flaw, across/);
  assert.throws(() => flawOutline({ along: "100", across: "5", size: "0" }), /The flaw, size/);
});

test("a spoiled hand is nowhere on the layout until the rest is laid again", () => {
  /** @param {number} turned */
  const cutting = (turned) => /** @type {any} */ ({
    cut: ["Front#1"],
    lines: [{ piece: "Front", hand: "drawn", gap: 1 }, { piece: "Front", hand: "turned", gap: turned }],
  });
  /** @type {any[]} */
  const pieces = [{ key: "Front#1", piece: "Front", hands: ["drawn", "turned"] }, { key: "Front#2", piece: "Front", hands: ["drawn"] }];
  assert.deepEqual(nowhere(cutting(0), pieces), []);
  assert.deepEqual(nowhere(cutting(1), pieces), ["1 x Front (turned over)"]);
});

test("a map's figures say mm, never pixels alone, and what was not checked", () => {
  const map = {
    route: "camera", accuracy: { rms_mm: 0.12, p95_mm: 0.24, max_mm: 0.4, noise_ratio: 1.1, mm_per_px: [0.62, 0.63, 0.71, 0.7] },
    checks: [], created: "2026-03-02T09:00:00+00:00", last_checked: null, canvas: /** @type {[number, number]} */ ([1920, 1080]), dpr: 1, screen: "1920 x 1080",
  };
  const told = Object.fromEntries(figures(map));
  assert.match(told["Lines are off by"], /0\.1 mm on average, less than 0\.2 mm .* 0\.4 mm at the worst/);
  assert.match(told["One point of light"], /0\.6 mm near left, 0\.6 mm near right, 0\.7 mm far right, 0\.7 mm far left/);
  assert.equal(told["Verified by tape"], "no");
  assert.match(told.Made, /; not checked since$/);
  const line = { nominal_mm: 600, measured_mm: 600.7, when: "2026-03-02T10:00:00+00:00" };
  assert.match(Object.fromEntries(figures({ ...map, checks: [line], last_checked: line.when }))["Verified by tape"], /^yes, one line: off by 0\.7 mm at most$/);
  assert.match(agreement("camera", 2.4), /2\.4 times .* bends light/);
  assert.match(agreement("tape", null), /nothing checks them/);
});

test("the coverage hatches what is not for cutting and says so", () => {
  /** @type {P[]} */
  const rest = [[100, 0], [900, 0], [900, 600], [100, 600]];
  const found = {
    lit: SQUARE, share: 0.2, words: "", boards: [SQUARE], levels: [{ mm: 0.5, lines: [/** @type {P[]} */ ([[50, 0], [50, 100]])] }],
    zones: [
      { state: "good", words: "good to cut by", rings: [SQUARE], label_at: /** @type {P} */ ([50, 50]), room_mm: 50, hatch: [] },
      { state: "not for cutting", words: "not for cutting", rings: [rest], label_at: /** @type {P} */ ([500, 300]), room_mm: 300, hatch: [/** @type {P[]} */ ([[100, 0], [700, 600]])] },
    ],
  };
  const items = coverageItems(found, 15);
  const said = items.flatMap((item) => (item.kind === "text" ? item.lines : []));
  assert.ok(said.includes("not for cutting") && said.includes("0.5 mm"));
  assert.ok(!said.includes("good to cut by"), "no room for its words");
  assert.ok(items.some((item) => item.kind === "path" && item.closed && item.points === SQUARE));
  assert.ok(items.some((item) => item.kind === "path" && item.points === found.zones[1].hatch[0]));
  assert.ok(items.every((item) => item.kind !== "text" || item.cap >= 15));
  near(halfway([[0, 0], [10, 0], [10, 30]])[1], 10);
});

test("the table says when the light was last checked, and what to do when something was bumped", () => {
  const dates = new Intl.DateTimeFormat("en-GB", { dateStyle: "medium", timeStyle: "short", timeZone: "UTC" });
  const never = checkedWords({ last_checked: null, marks_made: null }, dates);
  assert.match(never, /never checked.*Check it before the next cut/);
  const marked = checkedWords({ last_checked: "2026-11-25T09:40:00+00:00", marks_made: "2026-11-25T09:38:00+00:00" }, dates);
  assert.match(marked, /last checked 25 Nov 2026, 09:40/);
  assert.match(marked, /Look at the four marks before the next cut/);
});
