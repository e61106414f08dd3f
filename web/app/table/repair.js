// The panel for things gone wrong: what is typed in it is lit at once, and kept until it is laid again.

import { NO_WISH, SECONDS, againPanel, flawOutline, typedWish } from "./again.js";

/** @typedef {import("./map.js").TablePoint} Point */
/** @typedef {import("./again.js").Wish} Wish */

/**
 * @param {object} page
 * @param {ReturnType<typeof import("./panel.js").makePanel>} page.panel
 * @param {() => ReturnType<typeof import("./session.js").followCutting> | null} page.session
 * @param {() => import("./scene.js").Projection | null} page.projection
 * @param {() => import("./scene.js").Piece | null} page.current  the piece that is lit alone
 * @param {(flaws: Point[][]) => void} page.light  outlines of what is typed, cloth mm
 */
export function makeRepair({ panel, session, projection, current, light }) {
  let wish = NO_WISH;
  let laying = false;

  /** @param {{message: string, hint?: string} | null} [refusal] @param {Wish | null} [typed] */
  function open(refusal = null, typed = typedWish()) {
    const following = session();
    const shown = projection();
    if (!following || !shown) return;
    const held = document.activeElement?.id ?? "";
    // Drawn again when another page marks or moves: what is typed stays.
    wish = typed ?? wish;
    panel.show("again", ...againPanel({ cutting: following.now, projection: shown, current: current(), wish, busy: laying, refusal }, {
      another,
      typed: keep,
      spoiled: (key, hand) => void markSpoiled(key, hand),
      lay: () => void layAgain(),
      close: () => {
        keep();
        panel.close();
      },
    }));
    (document.getElementById(held) ?? document.getElementById("again-lay"))?.focus();
  }

  /** What can be read of what is typed is lit, so that it can be held against the cloth. */
  function keep() {
    wish = typedWish() ?? wish;
    light([...wish.more, wish.flaw].flatMap((flaw) => {
      try {
        const outline = flawOutline(flaw);
        return outline ? [outline] : [];
      } catch {
        return []; // half typed
      }
    }));
  }

  /** What is typed of one flaw goes onto the list, and the fields are free for the next. */
  function another() {
    const typed = typedWish() ?? wish;
    try {
      if (!flawOutline(typed.flaw)) return void document.getElementById("again-along")?.focus();
      open(null, { ...typed, flaw: NO_WISH.flaw, more: [...typed.more, typed.flaw] });
      document.getElementById("again-along")?.focus();
    } catch (error) {
      open({ message: /** @type {Error} */ (error).message });
    }
  }

  /** A piece whose cutting failed counts as cut: its cloth is gone. @param {string} key @param {string} hand */
  async function markSpoiled(key, hand) {
    const following = session();
    if (!following) return;
    if (!following.now.cut.includes(key) && !(await following.mark("cut", key))) return;
    await following.mark("spoiled", key, hand);
  }

  async function layAgain() {
    const following = session();
    if (!following || laying) return;
    keep();
    /** @type {Point[][]} */
    let flaws;
    try {
      flaws = [...wish.more, wish.flaw].flatMap((f) => { const outline = flawOutline(f); return outline ? [outline] : []; });
    } catch (error) {
      open({ message: /** @type {Error} */ (error).message });
      return;
    }
    laying = true;
    open();
    const why = await following.layAgain({ flaws, take_back: wish.sound, keep: wish.keep, seconds: wish.longer ? SECONDS.long : SECONDS.short });
    laying = false;
    if (why) return open({ message: why.message, hint: `${why.hint ?? ""} The layout stands as it was, and what is cut stays marked.` });
    // Closed before the new layout comes, or what stands in its fields would be taken for a new wish.
    if (panel.name === "again") panel.close();
    wish = NO_WISH;
    light([]);
  }

  return { open, keep };
}
