// Three sheets of canvas over one another, each drawn again only when what is on it changes.

import { setSize } from "./surface.js";
import { paint } from "./paint.js";

/** @typedef {import("./scene.js").Item} Item */
/** @typedef {import("./paint.js").Palette} Palette */
/** @typedef {import("./map.js").TableMap} TableMap */

/**
 * @param {HTMLCanvasElement} canvas
 * @param {boolean} opaque
 */
export function makeSheet(canvas, opaque) {
  const ctx = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d", { alpha: !opaque }));
  let last = "";
  let drawn = 0;
  return {
    ctx,
    /**
     * @param {string} key  everything that the drawing depends on
     * @param {[number, number]} size
     * @param {Palette} palette
     * @param {TableMap | null} map
     * @param {() => Item[]} items  asked for only when the key is new
     */
    draw(key, size, palette, map, items) {
      if (key === last) return;
      last = key;
      const started = performance.now();
      setSize(canvas, size);
      ctx.setTransform(1, 0, 0, 1, 0, 0);
      if (opaque) {
        ctx.fillStyle = palette.ground;
        ctx.fillRect(0, 0, size[0], size[1]);
      } else {
        ctx.clearRect(0, 0, size[0], size[1]);
      }
      const points = map ? paint(ctx, items(), map, palette) : 0;
      drawn += 1;
      // For measurements from outside: how often, the script's time for the last one, and its points.
      canvas.dataset.drawn = String(drawn);
      canvas.dataset.points = String(points);
      canvas.dataset.ms = (performance.now() - started).toFixed(1);
    },
  };
}
