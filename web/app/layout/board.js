/**
 * The board that a layout is drawn on: how large it is, what of the cloth it shows, and how a person
 * comes closer and moves about.
 */

/** @import {ClothResult} from "../wire.js" */
/** @import {View} from "../draw/lines.js" */
import { clothBox, fitView, MARGIN_PX } from "../draw/spread.js";

export function boardSize() {
  const gutter = Math.max(16, Math.min(56, window.innerWidth * 0.032));
  const width = Math.max(240, Math.floor(document.documentElement.clientWidth - 2 * gutter));
  return { width, most: Math.max(300, window.innerHeight - 300) };
}

/** The board as large as the window allows, no wider than the cloth needs. @param {ClothResult} result */
export function fitted(result) {
  const { width: room, most } = boardSize();
  const box = clothBox(result);
  const [wide, tall] = [Math.max(1, box.x1 - box.x0), Math.max(1, box.y1 - box.y0)];
  const k = Math.min((room - MARGIN_PX) / wide, (most - MARGIN_PX) / tall);
  const width = Math.round(Math.min(room, Math.max(300, k * wide + MARGIN_PX)));
  const height = Math.round(Math.max(180, k * tall + MARGIN_PX));
  return { width, height, view: fitView(box, width, height) };
}

/**
 * @param {() => ClothResult | undefined} shown
 * @param {() => void} paint
 */
export function makeBoard(shown, paint) {
  /** @type {View | null} a view that the person chose; null = all of it */
  let chosen = null;

  /** @param {number} by @param {[number, number]} [about] px */
  function zoom(by, about) {
    const result = shown();
    if (!result) return;
    const { view: all, width, height } = fitted(result);
    const view = chosen ?? all;
    const k = Math.min(Math.max(view.k * by, all.k), all.k * 40);
    if (k <= all.k * 1.001) {
      chosen = null;
      return;
    }
    const [cx, cy] = about ?? [width / 2, height / 2];
    const f = k / view.k;
    chosen = { k, tx: cx + (view.tx - cx) * f, ty: cy + (view.ty - cy) * f };
  }

  return {
    /** The view that the person chose; null = all of it. */
    get chosen() {
      return chosen;
    },

    all() {
      chosen = null;
    },

    zoom,

    /** @param {string} key */
    pan(key) {
      if (!chosen) return;
      const by = 80;
      const [dx, dy] = key === "ArrowLeft" ? [by, 0] : key === "ArrowRight" ? [-by, 0] : key === "ArrowUp" ? [0, by] : [0, -by];
      chosen = { ...chosen, tx: chosen.tx + dx, ty: chosen.ty + dy };
    },

    /** @param {WheelEvent} event */
    wheel(event) {
      if (!event.ctrlKey && !event.metaKey) return;
      event.preventDefault();
      const box = /** @type {HTMLElement} */ (event.currentTarget).getBoundingClientRect();
      zoom(Math.exp(-event.deltaY / 300), [event.clientX - box.left, event.clientY - box.top]);
      paint();
    },

    /** @param {PointerEvent} event */
    dragStart(event) {
      if (!chosen || event.button !== 0) return;
      const board = /** @type {HTMLElement} */ (event.currentTarget);
      const from = { x: event.clientX, y: event.clientY, view: chosen };
      let moved = false;
      /** @param {PointerEvent} e */
      const move = (e) => {
        const [dx, dy] = [e.clientX - from.x, e.clientY - from.y];
        if (!moved && Math.hypot(dx, dy) < 5) return;
        moved = true;
        chosen = { ...from.view, tx: from.view.tx + dx, ty: from.view.ty + dy };
        paint();
      };
      const end = () => {
        board.removeEventListener("pointermove", move);
        window.removeEventListener("pointerup", end);
        window.removeEventListener("pointercancel", end);
        if (moved) board.addEventListener("click", (e) => e.stopPropagation(), { capture: true, once: true });
      };
      board.addEventListener("pointermove", move);
      window.addEventListener("pointerup", end);
      window.addEventListener("pointercancel", end);
    },
  };
}
