import assert from "node:assert/strict";
import { test } from "node:test";
import { bounds, halfPlane } from "../../web/app/geometry.js";
import { lacksFromAbove, newFlaw, newMissing } from "../../web/app/lacks.js";
import { layRequest, newCloth } from "../../web/app/state.js";
import { hatching } from "../../web/app/table/ground.js";

/** @param {Partial<import("../../web/app/state.js").ClothChoice>} change */
const cloth = (change) => ({ ...newCloth("metric"), width_mm: 1000, selvedge_mm: 0, fold: "open", ...change });
const flaw = { along_from_mm: 100, along_to_mm: 200, across_from_mm: 450, across_to_mm: 600, margin_mm: 0 };

/** @param {Partial<import("../../web/app/state.js").ClothChoice>} change */
const seen = (change) => lacksFromAbove(cloth(change)).map((l) => bounds(l.outline));

test("a flaw lies open where the tape found it, its margin round it", () => {
  assert.deepEqual(seen({ flaws: [{ ...flaw, margin_mm: 10 }] }), [{ x0: 90, x1: 210, y0: 440, y1: 610 }]);
  assert.deepEqual(seen({ flaws: [{ ...flaw, across_to_mm: null }] }), [{ x0: 100, x1: 200, y0: 450, y1: 1000 }]);
});

test("folded lengthwise a flaw over the fold shows once for each ply", () => {
  assert.deepEqual(seen({ fold: "lengthwise", flaws: [flaw] }), [
    { x0: 100, x1: 200, y0: 0, y1: 100 },
    { x0: 100, x1: 200, y0: 0, y1: 50 },
  ]);
});

test("with both selvedges to the middle each half has its own fold", () => {
  const near = { ...flaw, across_from_mm: 0, across_to_mm: 50 };
  const far = { ...flaw, across_from_mm: 950, across_to_mm: 1000 };
  assert.deepEqual(seen({ fold: "double", flaws: [near, far] }).map((b) => [b.y0, b.y1]), [[200, 250], [250, 300]]);
});

test("a slanted end is the triangle that its shorter selvedge lacks", () => {
  const [only, ...others] = lacksFromAbove(cloth({ available_mm: 900, far_length_mm: 700 }));
  assert.deepEqual(only, { kind: "missing", outline: [[900, 0], [700, 1000], [900, 1000]] });
  assert.equal(others.length, 0);
  assert.deepEqual(seen({ available_mm: null, far_length_mm: 700, missing: [newMissing()] }), []);
});

test("what is lacking is asked of the service as the tape found it", () => {
  const own = cloth({ available_mm: 900, far_length_mm: 700, flaws: [newFlaw()], missing: [newMissing()] });
  const { shell } = layRequest("s", { shell: own }, { copies: 1, seconds: 1, gap_mm: 0 }, "metric").cloths;
  assert.equal(shell.far_length, 700);
  assert.deepEqual(shell.flaws, [{ along_from: 800, along_to: 900, across_from: 0, across_to: null, margin: 10 }]);
  assert.equal(shell.missing?.length, 1);
  const bought = layRequest("s", { shell: { ...own, available_mm: null } }, { copies: 1, seconds: 1, gap_mm: 0 }, "metric").cloths.shell;
  assert.deepEqual([bought.far_length, bought.missing], [null, []]);
});

test("a convex outline is cut at a line", () => {
  assert.deepEqual(bounds(halfPlane([[0, 0], [4, 0], [4, 4], [0, 4]], 0, 3, -1)), { x0: 0, x1: 3, y0: 0, y1: 4 });
  assert.deepEqual(halfPlane([[0, 0], [4, 0], [4, 4]], 1, 5, 1), []);
});

test("hatching stays inside the outline", () => {
  const lines = hatching([[0, 0], [100, 0], [0, 100]], 20);
  assert.ok(lines.length > 4);
  for (const line of lines) for (const [x, y] of line) assert.ok(x >= -1e-9 && y >= -1e-9 && x + y <= 100 + 1e-9);
});
