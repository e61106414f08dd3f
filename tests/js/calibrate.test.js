import assert from "node:assert/strict";
import { test } from "node:test";
import { makeLooks } from "../../web/app/calibrate/looks.js";
import { makeTurns } from "../../web/app/calibrate/turns.js";

/** Let everything that waits for an answer go on. */
const settle = () => new Promise((resolve) => setTimeout(resolve, 0));

/** Looks whose answers are given by hand, and which photograph each is for. */
function byHand(most = 12) {
  /** @type {{one: string, answer: (seen: string) => void, signal: AbortSignal}[]} */
  const asked = [];
  const looks = makeLooks({
    look: (/** @type {string} */ one, signal) => new Promise((/** @type {(seen: string) => void} */ answer) => asked.push({ one, answer, signal })),
    changed: () => undefined,
    most,
  });
  return { looks, asked };
}

test("only the last turn is on", () => {
  const turns = makeTurns();
  const first = turns.next();
  assert.equal(first(), true);
  const second = turns.next();
  assert.equal(first(), false);
  assert.equal(second(), true);
});

test("photographs are looked at one at a time and keep their order, also when more come meanwhile", async () => {
  const { looks, asked } = byHand();
  looks.add(["a", "b"]);
  looks.add(["c"]);
  assert.deepEqual(asked.map((a) => a.one), ["a"]);
  for (const name of ["a", "b", "c"]) {
    asked[asked.length - 1].answer(`saw ${name}`);
    await settle();
  }
  assert.deepEqual(looks.done(), ["a", "b", "c"].map((one) => ({ one, seen: `saw ${one}` })));
  assert.equal(looks.now(), null);
});

test("another board: what was found and what is on its way are thrown away, each photograph is looked at once more", async () => {
  const { looks, asked } = byHand();
  looks.add(["a", "b"]);
  asked[0].answer("a by the old board");
  await settle();
  looks.again();
  assert.equal(asked[1].signal.aborted, true);
  asked[1].answer("b by the old board");
  await settle();
  assert.deepEqual(looks.done(), []);
  asked[2].answer("a by the new board");
  await settle();
  asked[3].answer("b by the new board");
  await settle();
  assert.deepEqual(asked.map((a) => a.one), ["a", "b", "a", "b"]);
  assert.deepEqual(looks.done().map((d) => d.seen), ["a by the new board", "b by the new board"]);
});

test("left out while it is looked at: its answer is not kept, the next one comes", async () => {
  const { looks, asked } = byHand();
  looks.add(["a", "b"]);
  looks.drop("a");
  asked[0].answer("a");
  await settle();
  asked[1].answer("b");
  await settle();
  assert.deepEqual(looks.done(), [{ one: "b", seen: "b" }]);
});

test("those without room come back, and after the stop nothing is kept", async () => {
  const { looks, asked } = byHand(2);
  assert.deepEqual(looks.add(["a", "b", "c"]), ["c"]);
  looks.stop();
  asked[0].answer("a");
  await settle();
  assert.deepEqual(looks.done(), []);
  assert.equal(asked.length, 1);
});
