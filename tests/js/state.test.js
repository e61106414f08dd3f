import assert from "node:assert/strict";
import { test } from "node:test";
import { cardRequest, clothRequest, distances, handLetter, mostToSave, newCloth, parsePoints, parseRoute, repeatOf, routeHash, staircase, totals, usableWidth, withCloth } from "../../web/app/state.js";
import { changeEdge, changePiece, newSheet, notchesOf, panelPiece, withNotches, withoutPiece, withPiece, withMeasures } from "../../web/app/sheet.js";
import { lookWords } from "../../web/app/pieces/look_words.js";
import { clicked, onItsWay } from "../../web/app/piece/change_handles.js";
import { asideOf, changeOf, firstWish, pointAside, withOneMore } from "../../web/app/piece/wishes.js";
import { say } from "../../web/app/words.js";

const cloth = (more = {}) => /** @type {any} */ ({ cloth: "shell", selvedge_mm: 12, end_allowance_mm: 20, length_mm: 1000, floor_mm: 900, price: null, currency: "€", placements: [], zones: [], ...more });

/** @param {object} value */
const stripped = (value) => Object.fromEntries(Object.entries(value).filter(([, v]) => v !== undefined));

test("routes go into the address and come back", () => {
  for (const route of /** @type {any[]} */ ([
    { page: "pieces", style: "a b/c" },
    { page: "piece", style: "s", piece: "Under collar 1/2" },
    { page: "cloth", style: "s" },
    { page: "layout", lay: "l", cloth: "lining" },
    { page: "buy", lay: "l" },
  ])) assert.deepEqual(stripped(parseRoute(routeHash(route))), route);
  assert.deepEqual(stripped(parseRoute("#/nowhere/%zz")), { page: "pieces" });
});

test("usable width: measured x (1 - shrink across) - 2 x selvedge", () => {
  const c = { ...newCloth("metric"), width_mm: 1500, measured_width_mm: 1480, shrink_across: 0.02, selvedge_mm: 12 };
  assert.ok(Math.abs(usableWidth(c) - (1480 * 0.98 - 24)) < 1e-9);
});

test("the request says lengths in mm and the unit of the shop", () => {
  const wish = clothRequest({ ...newCloth("imperial"), nap: true }, "imperial");
  assert.equal(wish.width, 60 * 25.4);
  assert.equal(wish.unit, "yd");
  assert.equal(wish.step, 914.4 / 8);
  assert.equal(wish.nap, true);
});

const square = (/** @type {number} */ x, /** @type {number} */ y) => [[x, y], [x + 100, y], [x + 100, y + 50], [x, y + 50]];

test("distances on open cloth are from the real selvedge and the squared end", () => {
  const zone = { id: "open", x0: 0, x1: 1000, y0: 0, y1: 1476, plies: 1, fold_edges: [] };
  const piece = /** @type {any} */ ({ piece: "Front", zone: "open", cut_line: square(30, 200), grain: [[40, 225], [120, 225]], hands: ["drawn"] });
  const d = distances(piece, cloth({ zones: [zone] }));
  assert.deepEqual(d, { end: 30, end_far: 130, fold: null, selvedge: 212, grain_tail: 237, grain_head: 237 });
});

test("distances in a folded zone are from the fold and from the selvedges opposite", () => {
  const zone = { id: "two", x0: 0, x1: 1000, y0: 0, y1: 738, plies: 2, fold_edges: ["y0"] };
  const piece = /** @type {any} */ ({ piece: "Back", zone: "two", cut_line: square(10, 0), grain: [[20, 25], [90, 25]], hands: ["drawn"], on_fold: true });
  const d = distances(piece, cloth({ zones: [zone] }));
  assert.equal(d.fold, 0);
  assert.equal(d.selvedge, 738 + 12 - 50);
  assert.equal(handLetter(piece), "F");
});

test("on a double fold the selvedges meet in the middle", () => {
  const first = { id: "first fold", x0: 0, x1: 1000, y0: 0, y1: 360, plies: 2, fold_edges: ["y0"] };
  const second = { id: "second fold", x0: 0, x1: 1000, y0: 360, y1: 720, plies: 2, fold_edges: ["y1"] };
  const at = (/** @type {string} */ zone, /** @type {number} */ y) =>
    distances(/** @type {any} */ ({ piece: "Band", zone, cut_line: square(10, y), grain: [[20, y + 25], [90, y + 25]], hands: ["drawn", "turned"] }), cloth({ zones: [first, second] }));
  assert.deepEqual([at("first fold", 100).fold, at("first fold", 100).selvedge], [100, 360 - 150 + 12]);
  assert.deepEqual([at("second fold", 400).fold, at("second fold", 400).selvedge], [720 - 450, 40 + 12]);
});

test("the curve is a staircase that holds until the end", () => {
  const history = [{ seconds: 0.2, steps: 1, length_mm: 1200 }, { seconds: 1, steps: 9, length_mm: 1100 }];
  assert.deepEqual(staircase(history, 5), [[0.2, 1200], [1, 1200], [1, 1100], [5, 1100]]);
  assert.deepEqual(staircase([], 5), []);
});

test("what could still be saved never exceeds the gap to the floor", () => {
  assert.equal(mostToSave({ length_mm: 1000, floor_mm: 900 }), 0.1);
  assert.equal(mostToSave({ length_mm: 1000, floor_mm: 1000 }), 0);
  assert.equal(mostToSave({ length_mm: 0, floor_mm: 0 }), 0);
});

test("a newer result takes the place of the older", () => {
  const lay = /** @type {any} */ ({ cloths: [cloth(), cloth({ cloth: "lining" })] });
  const next = withCloth(lay, cloth({ length_mm: 950 }));
  assert.deepEqual(next.cloths.map((c) => [c.cloth, c.length_mm]), [["shell", 950], ["lining", 1000]]);
  assert.equal(lay.cloths[0].length_mm, 1000);
});

test("prices are summed by currency", () => {
  assert.deepEqual(totals([cloth({ price: 10.5 }), cloth({ price: 2 }), cloth({ price: 3, currency: "£" }), cloth()]), [
    { currency: "€", sum: 12.5 },
    { currency: "£", sum: 3 },
  ]);
});

test("typed points", () => {
  assert.deepEqual(parsePoints("0 0\n30 0; 28,5 42\n0,42"), [[0, 0], [30, 0], [28.5, 42], [0, 42]]);
  assert.throws(() => parsePoints("0 0\n30 0"), /three points/);
  assert.throws(() => parsePoints("0 0\nx 0\n1 1"), /Point 2/);
});

const sheet = newSheet("Coat", [
  { name: "Front", outline: { start: [0, 0], edges: [{ name: "hem", to: [10, 0] }, { name: "side", to: [10, 10] }, { to: [0, 0] }] } },
  { name: "Panel", outline: { rectangle: { width: 8, length: 9 } } },
  { name: "Gore", outline: { points: [[0, 0], [1, 0], [0, 1]] } },
]);

test("an allowance is written where the outline says its edges, the old sheet stays", () => {
  const before = JSON.stringify(sheet);
  const add = /** @type {const} */ ({ allowance: { state: "add", width_mm: 12.7 } });
  const a = changeEdge(sheet, "Front", { name: "side", index: 0 }, add);
  assert.deepEqual(a.pieces[0].outline.edges[1].allowance, { state: "add", width: "12.7 mm" });
  assert.equal(a.pieces[0].outline.edges[0].allowance, undefined);
  const b = changeEdge(sheet, "Panel", { name: "right", index: 1 }, add);
  assert.deepEqual(Object.keys(b.pieces[1].outline.sides), ["right"]);
  const c = changeEdge(sheet, "Gore", { name: "edge 3", index: 2 }, { allowance: { state: "none", width_mm: 0 }, kind: "fold" });
  assert.deepEqual(c.pieces[2].outline.sides, { 3: { kind: "fold", allowance: "none" } });
  assert.equal(JSON.stringify(sheet), before);
});

test("pieces are changed, added and taken out by name", () => {
  assert.deepEqual(changePiece(sheet, "Gore", { cloth: "lining" }).pieces[2].cloth, "lining");
  assert.equal(withoutPiece(sheet, "Gore").pieces.length, 2);
  assert.equal(withPiece(sheet, { name: "Belt" }).pieces.length, 4);
});

test("a panel from the tape measure: rectangle on the fold, points with an allowance", () => {
  const base = { name: "Pocket", width_mm: 120, length_mm: 200, points: [], allowance_mm: 15, cloth: "lining" };
  const fold = panelPiece({ ...base, form: "rectangle", count: "fold" });
  assert.deepEqual(fold.outline.sides.left, { kind: "fold" });
  assert.deepEqual(fold.count, { "on fold": 1 });
  const gore = panelPiece({ ...base, form: "points", count: "pair", points: [[0, 0], [-10, 5], [3, 9]] });
  assert.deepEqual(gore.outline.points[1], ["-10 mm", "5 mm"]);
  assert.deepEqual(gore.outline.sides["3"].allowance, { state: "add", width: "15 mm" });
});

test("two sets of words", () => {
  assert.equal(say("Selvedges meet at the centre", "us"), "Selvages meet at the center");
  assert.equal(say("50 centimetres from the selvedge", "us"), "50 centimeters from the selvage");
  assert.equal(say("Selvedges", "uk"), "Selvedges");
});

test("the shop card asks for the named cloths at another width, the others as chosen", () => {
  const request = /** @type {any} */ ({ style_id: "s", copies: 2, steps: 5, seconds: null, cloths: { shell: { width: 1500, available: 1400, far_length: 1300, flaws: [{}], fold: "open" }, lining: { width: 1400 } } });
  const asked = cardRequest(request, ["shell"], 900, true, 2);
  assert.deepEqual(asked.cloths.shell, { width: 900, measured_width: null, available: null, far_length: null, flaws: [], missing: [], nap: true, fold: "open" });
  assert.deepEqual(asked.cloths.lining, { width: 1400 });
  assert.equal(asked.seconds, 2);
  assert.ok(!("steps" in asked));
  assert.equal(request.cloths.shell.width, 1500);
});

test("notches are read in the sheet's unit and written with their own", () => {
  const inches = { ...sheet, unit: "in", pieces: [{ name: "Front", outline: {}, notches: [{ edge: "side", distance: 2 }, { edge: "side", distance: "1 3/8", from: "end", marks: 2 }] }] };
  const found = notchesOf(inches, "Front");
  assert.deepEqual(found.map((n) => [n.distance_mm, n.from, n.marks]), [[50.8, "start", 1], [34.925, "end", 2]]);
  const written = withNotches(inches, "Front", [...found, { edge: "hem", distance_mm: 5, from: "start", marks: 1, name: "centre" }]);
  assert.deepEqual(notchesOf(written, "Front").map((n) => n.distance_mm), [50.8, 34.925, 5]);
  assert.equal(written.pieces[0].notches[2].name, "centre");
});

test("sewing partners are said on edges and on sides", () => {
  const one = changeEdge(sheet, "Front", { name: "side", index: 1 }, { partners: ["Back/side"] });
  assert.match(JSON.stringify(one), /"name":"side"[^}]*"partner":"Back\/side"|"partner":"Back\/side"[^}]*"name":"side"/);
  const two = changeEdge(sheet, "Panel", { name: "top", index: 2 }, { partners: ["Front/hem"] });
  assert.match(JSON.stringify(two), /"partner":"Front\/hem"/);
  const row = changeEdge(sheet, "Panel", { name: "top", index: 2 }, { partners: ["Front/hem", "Back/hem"], run: [] });
  assert.match(JSON.stringify(row), /"partner":\["Front\/hem","Back\/hem"\]/);
  const odd = changeEdge(sheet, "Panel", { name: "top", index: 2 }, { partners: ["A/x + B/y"] });
  assert.match(JSON.stringify(odd), /"partner":\["A\/x \+ B\/y"\]/);
});

test("the repeat that a lay was asked with", () => {
  const lay = /** @type {any} */ ({ request: { cloths: { shell: { repeat_along: 40, repeat_across: null } } } });
  assert.deepEqual(repeatOf(lay, "shell"), { along: 40, across: 0 });
  assert.deepEqual(repeatOf(lay, "lining"), { along: 0, across: 0 });
});

test("what of a style wants to be looked at is counted in words", () => {
  const none = { id: "a", readable: true, pieces_refused: 0, pieces_to_see: 0, seams_to_see: 0, girths_to_see: 0 };
  assert.deepEqual(lookWords(none), { text: "nothing to mend", some: false, bad: false });
  assert.equal(lookWords({ ...none, pieces_to_see: 1 }).text, "1 piece to look at");
  assert.equal(lookWords({ ...none, pieces_to_see: 2, seams_to_see: 1, girths_to_see: 1 }).text, "2 pieces, 1 seam and 1 girth to look at");
  assert.deepEqual(lookWords({ ...none, pieces_refused: 2, seams_to_see: 3 }), { text: "2 pieces cannot be cut; 3 seams to look at", some: true, bad: true });
  assert.equal(lookWords({ ...none, readable: false }).bad, true);
});

/** A rectangle of 200 by 300 mm, grain up. */
const panel = /** @type {any} */ ({
  name: "Panel",
  darts: [],
  marks: [],
  grain: null,
  edges: [["bottom", [[0, 0], [200, 0]]], ["right", [[200, 0], [200, 300]]], ["top", [[200, 300], [0, 300]]], ["left", [[0, 300], [0, 0]]]].map(
    ([name, points]) => ({ name, points, kind: "seam", length_mm: name === "bottom" || name === "top" ? 200 : 300, allowance: { width_mm: 10 } }),
  ),
});

test("a place beside a straight line is found again from its two measures", () => {
  const [a, b] = /** @type {[number, number][]} */ ([[10, 20], [40, 60]]);
  for (const place of [{ along: 25, left: 10 }, { along: -5, left: -7 }, { along: 60, left: 0 }]) {
    const again = asideOf(pointAside(place, a, b), a, b);
    assert.ok(Math.abs(again.along - place.along) < 1e-9 && Math.abs(again.left - place.left) < 1e-9);
  }
  // Up the page, left of the way is to the left hand.
  assert.deepEqual(pointAside({ along: 30, left: 5 }, [0, 0], [0, 100]), [-5, 30]);
});

test("a cut is drawn by clicks: where it begins, what it passes, where it ends", () => {
  let wish = firstWish(panel, 0);
  for (const [aiming, at] of /** @type {["start" | "way", [number, number]][]} */ ([["start", [100, 2]], ["way", [80, 100]], ["way", [130, 200]], ["way", [120, 301]]]))
    wish = { ...wish, ...clicked("split", wish, panel, at, aiming, "metric") };
  assert.equal(wish.way, "curve");
  const change = /** @type {any} */ (changeOf("split", wish, panel));
  assert.equal(change.smooth, true);
  assert.deepEqual(change.line[0], [100, 0]);
  assert.deepEqual(change.line[3], [120, 300]);
  // In whole steps of a millimetre along the line and square to it.
  for (const [i, x, y] of [[1, 80, 100], [2, 130, 200]]) assert.ok(Math.hypot(change.line[i][0] - x, change.line[i][1] - y) < 0.8);
  const cornered = /** @type {any} */ (changeOf("split", { ...wish, way: "corners" }, panel));
  assert.deepEqual([cornered.line, cornered.smooth], [change.line, false]);
  assert.equal(/** @type {any} */ (changeOf("split", { ...wish, way: "straight" }, panel)).line.length, 2);
});

test("a click near the outline is none on the way", () => {
  assert.ok(onItsWay(panel, [100, 150]));
  for (const at of /** @type {[number, number][]} */ ([[100, 5], [195, 150], [100, 320]])) assert.ok(!onItsWay(panel, at));
});

test("one more point of a cut lies half way along its longest step", () => {
  assert.deepEqual(withOneMore([], 300), [{ along: 150, left: 10 }]);
  assert.deepEqual(withOneMore([{ along: 100, left: 20 }], 300)[1], { along: 200, left: 10 });
});

test("a measure says which pieces are left out and counted in, and nothing where none are", () => {
  const measure = { line: "waist", below: 0, body: 720, ease: -20, cloth: "shell" };
  const [plain] = withMeasures(sheet, [measure]).body.measures;
  assert.deepEqual(plain, { line: "waist", below: "0 mm", body: "720 mm", ease: "-20 mm", cloth: "shell" });
  const [kept] = withMeasures(sheet, [{ ...measure, leave_out: ["Peplum"], count_in: [] }]).body.measures;
  assert.deepEqual(kept.leave_out, ["Peplum"]);
  assert.ok(!("count_in" in kept));
});
