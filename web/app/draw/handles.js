/**
 * Handles on a drawing: a place that the pointer drags and the arrow keys move, read out as a slider.
 */

/** @import {XY} from "../wire.js" */
/** @import {System} from "../units.js" */
/** @import {View} from "./lines.js" */
import { svg } from "../../vendor/lit-html/lit-html.js";
import { LEAP_MM, STEP_MM, toStep } from "../units.js";
import { at, r2 } from "./lines.js";

/**
 * @typedef {object} Handle
 * @property {string} id
 * @property {string} label what it moves, for screen readers
 * @property {XY} at mm
 * @property {number} value mm
 * @property {number} least
 * @property {number} most
 * @property {string} text the value in words
 * @property {(p: XY) => number} read the value for a pointer at `p`
 * @property {() => number} now the value this moment: keys may come faster than drawings
 * @property {number} [zero] the value that is counted from, 0 unless told: counted from there it moves in whole steps
 * @property {(value: number) => void} move
 * @property {(p: XY, system: System) => void} [moveFree] a handle that is not bound to a line: the pointer is at `p`
 * @property {(arrow: XY, by: number, system: System) => void} [nudge] and an arrow key moves it by so many mm
 * @property {() => void} [done] the hand has let go
 */

/** Which way each arrow key points, y up. @type {Record<string, XY>} */
const ARROWS = { ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowLeft: [-1, 0], ArrowDown: [0, -1] };

/** Where on the drawing an event happened, mm. @param {MouseEvent} event @param {View} view @returns {XY} */
export function pointOfEvent(event, view) {
  const target = /** @type {SVGElement} */ (event.currentTarget);
  const board = target instanceof SVGSVGElement ? target : /** @type {SVGSVGElement} */ (target.ownerSVGElement);
  const px = new DOMPoint(event.clientX, event.clientY).matrixTransform(board.getScreenCTM()?.inverse());
  return [(px.x - view.tx) / view.k, (view.ty - px.y) / view.k];
}

/** @param {Handle} handle @param {View} view @param {System} system whose steps it moves in */
export function handleDrawing(handle, view, system) {
  const [x, y] = at(view, handle.at).map(r2);
  /** @param {number} value */
  const within = (value) => Math.max(handle.least, Math.min(handle.most, value));
  /** @param {KeyboardEvent} event */
  const key = (event) => {
    const arrow = ARROWS[event.key];
    if (!arrow || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    // From a value between whole steps the first one goes to a whole step.
    const by = event.shiftKey ? LEAP_MM[system] : STEP_MM[system];
    if (handle.nudge) handle.nudge(arrow, by, system);
    else handle.move(within(toStep(handle.now() + (arrow[0] + arrow[1]) * by, system, handle.zero)));
  };
  /** @param {KeyboardEvent} event */
  const keyUp = (event) => event.key.startsWith("Arrow") && handle.done?.();
  /** @param {PointerEvent} event */
  const take = (event) => {
    if (event.button !== 0) return;
    event.preventDefault();
    const grip = /** @type {SVGGElement} */ (event.currentTarget);
    grip.focus({ preventScroll: true });
    grip.setPointerCapture(event.pointerId);
  };
  /** @param {PointerEvent} event */
  const drag = (event) => {
    const grip = /** @type {SVGGElement} */ (event.currentTarget);
    if (!grip.hasPointerCapture(event.pointerId)) return;
    if (handle.moveFree) handle.moveFree(pointOfEvent(event, view), system);
    else handle.move(within(toStep(handle.read(pointOfEvent(event, view)), system, handle.zero)));
  };
  return svg`<g class="handle" id=${handle.id} role="slider" tabindex="0" aria-label=${handle.label} aria-valuemin=${r2(handle.least)} aria-valuemax=${r2(handle.most)} aria-valuenow=${r2(handle.value)} aria-valuetext=${handle.text}
    @keydown=${key} @keyup=${keyUp} @pointerdown=${take} @blur=${() => handle.done?.()} @pointermove=${drag} @lostpointercapture=${() => handle.done?.()} @click=${(/** @type {Event} */ e) => e.stopPropagation()}>
    <circle class="handle-reach" cx=${x} cy=${y} r="17"></circle>
    <circle class="handle-dot" cx=${x} cy=${y} r="6.5"></circle>
  </g>`;
}
