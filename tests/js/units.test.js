import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { LengthError, parseLength, parsePercent, showBlank, showClothLength, showFraction, showLength, showPercent, stepWords, STEP_MM, toStep } from "../../web/app/units.js";

const table = JSON.parse(readFileSync(new URL("lengths.json", import.meta.url), "utf8"));

test("lengths are read as the Python twin reads them", () => {
  for (const [text, mm] of table.parse) assert.ok(Math.abs(parseLength(text) - mm) < 1e-9, `${text}: ${parseLength(text)}`);
});

test("what is no length is refused in words", () => {
  for (const text of table.refuse) assert.throws(() => parseLength(text), LengthError, text);
});

test("a bare number is in the unit of the blank; a bare fraction is inches", () => {
  assert.equal(parseLength("15", "cm"), 150);
  assert.equal(parseLength("15", "in"), 381);
  assert.ok(Math.abs(parseLength("1 3/8", "cm") - 34.925) < 1e-9);
});

test("sizes and lengths of cloth are shown as the Python twin shows them", () => {
  for (const [mm, metric, imperial] of table.size) {
    assert.equal(showLength(mm, "metric"), metric);
    assert.equal(showLength(mm, "imperial"), imperial);
  }
  for (const [mm, metric, imperial] of table.cloth) {
    assert.equal(showClothLength(mm, "metric"), metric);
    assert.equal(showClothLength(mm, "imperial"), imperial);
  }
});

test("no inch is ever decimal", () => {
  for (let mm = 0; mm < 500; mm += 3.7) {
    assert.ok(!showLength(mm, "imperial").includes("."));
    assert.ok(!showBlank(mm, "imperial").includes("."));
    assert.ok(!showClothLength(mm, "imperial").includes("."));
  }
});

test("what a blank shows is read back as the same length", () => {
  for (const mm of [1, 6.4, 12, 15, 150, 1500, 1524]) assert.ok(Math.abs(parseLength(showBlank(mm, "metric")) - mm) < 0.051);
  for (const sixteenths of [1, 6, 16, 22, 960]) {
    const mm = (sixteenths * 25.4) / 16;
    assert.ok(Math.abs(parseLength(showBlank(mm, "imperial")) - mm) < 1e-9);
  }
});

test("fractions are reduced and halves go to even", () => {
  assert.equal(showFraction(1.375), "1 3/8");
  assert.equal(showFraction(-0.5), "-1/2");
  assert.equal(showFraction(1 / 32), "0");
  assert.equal(showFraction(3 / 32), "1/8");
});

test("shares", () => {
  assert.equal(parsePercent("3%"), 0.03);
  assert.equal(parsePercent("3"), 0.03);
  assert.equal(parsePercent("2,5 %"), 0.025);
  assert.equal(showPercent(0.025), "2.5 %");
  for (const text of ["", "-1", "100", "three"]) assert.throws(() => parsePercent(text), LengthError, text);
});

test("keys move in whole millimetres or sixteenths of an inch, counted from where it is measured", () => {
  assert.equal(toStep(12.4, "metric"), 12);
  assert.equal(toStep(12.4, "metric", 203.7), 203.7 - 191);
  assert.equal(showBlank(toStep(12.4, "imperial"), "imperial"), "1/2 in");
  assert.ok(Math.abs(toStep(40, "imperial") - 25 * STEP_MM.imperial) < 1e-9);
  assert.match(stepWords("imperial"), /1\/16 in/);
});
