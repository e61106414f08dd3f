import assert from "node:assert/strict";
import { test } from "node:test";
import { bounds, distanceToLine, freeWay, inside, midpoint, namePlace, pathLength, roundStep, simplify } from "../../web/app/geometry.js";

/** @type {[number, number][]} */
const L = [[0, 0], [100, 0], [100, 20], [20, 20], [20, 100], [0, 100]];

test("bounds and length of an L", () => {
  assert.deepEqual(bounds(L), { x0: 0, y0: 0, x1: 100, y1: 100 });
  assert.equal(pathLength([...L, L[0]]), 400);
  assert.deepEqual(bounds([]), { x0: 0, y0: 0, x1: 0, y1: 0 });
});

test("a name is put inside, not into the notch of an L, and as large as it may be", () => {
  const { at, size, upright } = namePlace(L, 4);
  assert.ok(inside(at, L));
  // Along one leg: 100 long, 20 across; the height is bounded by 0.4 x 20 = 8.
  assert.ok(size > 7 && size <= 8.0001, String(size));
  assert.ok(!upright);
});

test("a narrow tall piece has its name upright", () => {
  /** @type {[number, number][]} */
  const strip = [[0, 0], [20, 0], [20, 200], [0, 200]];
  const { at, upright } = namePlace(strip, 8);
  assert.ok(upright);
  assert.ok(Math.abs(at[0] - 10) < 1 && Math.abs(at[1] - 100) < 6, String(at));
  assert.equal(freeWay([5, 100], strip, 0), 10);
});

test("simplify keeps within its tolerance and drops what is straight", () => {
  /** @type {[number, number][]} */
  const arc = Array.from({ length: 181 }, (_, i) => [100 * Math.cos((i * Math.PI) / 180), 100 * Math.sin((i * Math.PI) / 180)]);
  const few = simplify(arc, 0.1);
  assert.ok(few.length < 60 && few.length > 20);
  for (const p of arc) assert.ok(distanceToLine(p, few) <= 0.1 + 1e-9);
  assert.deepEqual(simplify([[0, 0], [5, 0], [10, 0]], 0.01), [[0, 0], [10, 0]]);
});

test("the middle of a line is half way along it", () => {
  assert.deepEqual(midpoint([[0, 0], [10, 0], [10, 30]]), [10, 10]);
});

test("ruler steps are round and few enough", () => {
  for (const range of [3, 17, 152, 1430, 20000]) {
    const step = roundStep(range, 10);
    assert.ok(range / step <= 10 + 1e-9);
    assert.ok([1, 2, 5].some((b) => Math.abs(Math.log10(step / b) - Math.round(Math.log10(step / b))) < 1e-9), String(step));
  }
});
