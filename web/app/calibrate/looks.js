// Photographs looked at one after another; when the board is changed, all of them again. Pure.

/**
 * @template P, S
 * @typedef {object} Looks
 * @property {(more: P[]) => P[]} add  those for which there was no room
 * @property {() => void} again        what was found does not hold any more: look at all again
 * @property {(one: P) => void} drop   leave one out, looked at or not
 * @property {() => void} stop         for good
 * @property {() => P | null} now      what is being looked at
 * @property {() => {one: P, seen: S}[]} done  in the order in which they came
 */

/**
 * One look at a time, in the order in which the photographs came. An answer of before `again`, `drop`
 * or `stop` is thrown away.
 * @template P, S
 * @param {object} how
 * @param {(one: P, signal: AbortSignal) => Promise<S>} how.look  never throws but for the signal
 * @param {() => void} how.changed  something was added, found, or left out
 * @param {number} how.most
 * @returns {Looks<P, S>}
 */
export function makeLooks({ look, changed, most }) {
  /** @type {{one: P, seen: S}[]} */
  let done = [];
  /** @type {P[]} */
  let waiting = [];
  let running = new AbortController();
  let busy = false;
  let stopped = false;

  async function run() {
    if (busy) return;
    busy = true;
    while (waiting.length && !stopped) {
      const one = waiting[0];
      const mine = running.signal;
      changed();
      const seen = await look(one, mine).catch(() => null);
      if (mine.aborted || seen === null) continue;
      waiting = waiting.slice(1);
      done = [...done, { one, seen }];
    }
    busy = false;
    if (!stopped) changed();
  }

  function interrupt() {
    running.abort();
    running = new AbortController();
  }

  return {
    add(more) {
      const room = Math.max(0, most - done.length - waiting.length);
      waiting = [...waiting, ...more.slice(0, room)];
      void run();
      return more.slice(room);
    },
    again() {
      if (!done.length && !waiting.length) return;
      waiting = [...done.map((d) => d.one), ...waiting];
      done = [];
      interrupt();
      void run();
    },
    drop(one) {
      if (waiting[0] === one) interrupt();
      waiting = waiting.filter((w) => w !== one);
      done = done.filter((d) => d.one !== one);
      changed();
    },
    stop() {
      stopped = true;
      interrupt();
    },
    now: () => (stopped ? null : waiting[0] ?? null),
    done: () => done,
  };
}
