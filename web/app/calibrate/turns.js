// Whose turn it is: an answer that comes late must not draw over what the person has gone to since. Pure.

/**
 * Turns: each `next` ends the turn before; what it gives back says whether that turn is still on.
 * @returns {{next: () => () => boolean}}
 */
export function makeTurns() {
  let now = 0;
  return {
    next() {
      now += 1;
      const mine = now;
      return () => mine === now;
    },
  };
}
