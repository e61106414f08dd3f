// The cutting as the service keeps it: followed by this page, moved on and marked from it.

import { call } from "../api.js";
import { listen } from "../news.js";

/** @typedef {import("./steps.js").Walk} Walk */
/** @typedef {{piece: string, hand: "drawn" | "turned", asked: number, laid: number, cut: number, spoiled: number, gap: number}} LedgerLine */

/**
 * @typedef {object} Cutting
 * @property {number} number
 * @property {string} layout
 * @property {Walk} walk
 * @property {string[]} cut
 * @property {[string, "drawn" | "turned"][]} spoiled
 * @property {{key: string, hands: ("drawn" | "turned")[]}[]} earlier  cut before the rest was laid again
 * @property {boolean} done
 * @property {{width_mm: number | null, light: string | null, turned: boolean | null}} look  as asked for from a hand-held page
 * @property {import("./cloth.js").Measured | null} measured
 * @property {import("./registration.js").Registered[]} registered
 * @property {LedgerLine[]} lines
 * @property {import("./map.js").TablePoint[][]} flaws  found while cutting; outlines, cloth mm
 * @property {import("./map.js").TablePoint[][]} holes  cut lines of what was cut before the rest was laid again
 * @property {string} gaps_text
 */

/** So often the service is asked whether it is back, once a step could not be sent, ms. */
const AGAIN_MS = 1500;

/**
 * Follow a cutting.
 * @param {string} lay
 * @param {string} cloth
 * @param {Cutting} first
 * @param {object} on
 * @param {(now: Cutting) => void} on.changed  a newer state, from whichever page it comes
 * @param {(why: {code: string, message: string, hint: string}) => void} on.refusedMove
 * @param {(why: {code: string, message: string, hint: string}) => void} on.refusedMark
 * @param {(lost: boolean) => void} [on.lost]  the stream of news broke off, or stands again
 */
export function followCutting(lay, cloth, first, on) {
  const path = `/lays/${encodeURIComponent(lay)}/cutting`;
  const query = `?cloth=${encodeURIComponent(cloth)}`;
  let now = first;
  /** Where this page went while the service was away. @type {Walk | null} */
  let unsent = null;
  /** News that came while something of this page was under way. @type {Cutting | null} */
  let news = null;
  /** Steps and marks go out one at a time, in the order in which they were made. */
  let queue = Promise.resolve();
  let waiting = 0;
  /** Rises when this page has to stand back: steps made before that mean nothing any more. */
  let stoodBack = 0;
  listen((told) => {
    if (told.kind !== "cutting") on.lost?.(told.kind === "lost");
    // Broken off may mean sent away: asking tells.
    if (told.kind !== "cutting") void lookAgain();
    else if (told.kind === "cutting" && told.lay_id === lay && told.cloth === cloth) take(told.cutting);
  });
  // The stream may outlive a gap in the network that swallowed a step: nothing would come to wake us.
  addEventListener("online", () => void lookAgain());

  /** Ask how the cutting stands; again and again, while a step of this page is still to be sent. */
  async function lookAgain() {
    try {
      take(await call("GET", `${path}${query}`));
    } catch (cause) {
      const error = /** @type {import("../api.js").ApiError} */ (cause);
      if (error.code === "not_let_in") return on.refusedMove(error);
      if (unsent) setTimeout(() => void lookAgain(), AGAIN_MS);
    }
  }

  /** @param {Cutting} found */
  function take(found) {
    if (waiting > 0) {
      if (!news || found.number > news.number) news = found;
      return;
    }
    if (found.number < now.number) return; // an answer that news overtook
    const walk = unsent;
    unsent = null;
    // Nobody else moved while the service was away: it follows where this page went. Else it leads.
    if (walk && found.number === now.number) void move(walk);
    else if (found.number > now.number || walk) adopt(found);
  }

  /** @param {Cutting} found */
  function adopt(found) {
    now = found;
    on.changed(found);
  }

  /**
   * @template T
   * @param {() => Promise<T>} task
   * @returns {Promise<T>}
   */
  function inTurn(task) {
    waiting += 1;
    const done = queue.then(task);
    queue = done.then(() => undefined, () => undefined).then(() => {
      waiting -= 1;
      if (waiting > 0 || !news) return;
      const late = news;
      news = null;
      if (late.number > now.number) adopt(late);
    });
    return done;
  }

  /** @param {Walk} walk */
  function move(walk) {
    const made = stoodBack;
    return inTurn(async () => {
      if (made !== stoodBack) return;
      try {
        now = await call("PUT", `${path}/walk${query}`, { number: now.number, layout: now.layout, walk });
      } catch (cause) {
        const error = /** @type {import("../api.js").ApiError} */ (cause);
        if (error.status === 0) {
          unsent = walk;
          setTimeout(() => void lookAgain(), AGAIN_MS);
          return;
        }
        if (error.code === "not_let_in") return on.refusedMove(error);
        // Another page was first: show where the table stands now.
        stoodBack += 1;
        adopt(await call("GET", `${path}${query}`));
        if (error.code !== "moved_on") on.refusedMove(error);
      }
    });
  }

  return {
    get now() {
      return now;
    },
    move,
    /**
     * Send typed measures.
     * @param {"registration" | "cloth" | "look"} what
     * @param {object} wish
     * @returns {Promise<{message: string, hint?: string} | null>} why not, or null when it was taken
     */
    send: (what, wish) => inTurn(async () => {
      try {
        adopt(await call("POST", `${path}/${what}${query}`, wish));
        return null;
      } catch (error) {
        return /** @type {import("../api.js").ApiError} */ (error);
      }
    }),
    /**
     * Lay again what is still to be cut.
     * @param {{flaws: [number, number][][], take_back: number[], keep: boolean, seconds: number}} wish
     * @returns {Promise<{message: string, hint?: string} | null>} why not, or null when it was laid
     */
    layAgain: (wish) => inTurn(async () => {
      try {
        adopt(await call("POST", `${path}/relay${query}`, { number: now.number, ...wish }));
        return null;
      } catch (cause) {
        const error = /** @type {import("../api.js").ApiError} */ (cause);
        if (error.code === "moved_on") adopt(await call("GET", `${path}${query}`));
        return error;
      }
    }),
    /**
     * @param {"cut" | "take back" | "spoiled" | "done"} what
     * @param {string} [key]
     * @param {string} [hand]
     * @returns {Promise<boolean>} was it taken?
     */
    mark: (what, key = "", hand) => inTurn(async () => {
      try {
        adopt(await call("POST", `${path}/marks${query}`, { do: what, key, ...(hand ? { hand } : {}) }));
        return true;
      } catch (error) {
        on.refusedMark(/** @type {import("../api.js").ApiError} */ (error));
        return false;
      }
    }),
  };
}

/** @param {string} lay @param {string} cloth @returns {Promise<Cutting>} */
export function getCutting(lay, cloth) {
  return call("GET", `/lays/${encodeURIComponent(lay)}/cutting?cloth=${encodeURIComponent(cloth)}`);
}
