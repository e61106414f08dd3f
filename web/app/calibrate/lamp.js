// What the calibration page lights, on this page's canvas or on that of a second window.

import { checkItems } from "../table/signs.js";
import { tableMap } from "../table/map.js";
import { paint } from "../table/paint.js";
import { coverageItems } from "./coverage.js";
import { screenSetting, setSize, watchSize } from "../table/surface.js";

/** @typedef {import("../table/surface.js").ScreenSetting} ScreenSetting */
/** @typedef {import("./crosses.js").CrossSet} CrossSet */
/** @typedef {{from: [number, number], to: [number, number], label: string}} Line */

/**
 * @typedef {{kind: "dark"} | {kind: "crosses", set: CrossSet, pair: [string, string] | null}
 *   | {kind: "pattern", black: [number, number, number, number][]}
 *   | {kind: "outline", bands: [number, number][][], map: import("../table/map.js").MapData}
 *   | {kind: "line", line: Line, map: import("../table/map.js").MapData}
 *   | {kind: "coverage", coverage: import("./coverage.js").Coverage, map: import("../table/map.js").MapData}} Shown
 */

/**
 * @typedef {object} Lamp
 * @property {() => ScreenSetting | null} setting  null while no light is there
 * @property {(what: Shown) => void} show
 */

const CHANNEL = "grainfold-calibrate";
const PALETTE = { line: "#ffffff", dim: "#666666", ground: "#000000" };
const LOOK = { width_mm: 2, net: false, turned: false, cap_mm: 15 };

/**
 * The light on this page.
 * @param {HTMLElement} box
 * @param {HTMLCanvasElement} canvas
 * @param {() => void} changed  the size changed
 * @returns {Lamp}
 */
export function ownLamp(box, canvas, changed) {
  /** @type {Shown} */
  let now = { kind: "dark" };
  /** @type {[number, number]} */
  let size = [0, 0];
  let last = "";
  const ctx = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d", { alpha: false }));
  const draw = () => {
    const key = JSON.stringify([size, now]);
    if (size[0] === 0 || key === last) return;
    last = key;
    setSize(canvas, size);
    drawShown(ctx, size, now);
    canvas.dataset.shown = now.kind;
  };
  box.hidden = false;
  watchSize(box, (found) => {
    size = found;
    draw();
    changed();
  });
  return {
    setting: () => (size[0] ? screenSetting(size) : null),
    show(what) {
      now = what;
      draw();
    },
  };
}

/**
 * This page as the light for a desk in another window of the same browser.
 * @param {HTMLElement} box
 * @param {HTMLCanvasElement} canvas
 */
export function lendLamp(box, canvas) {
  const channel = new BroadcastChannel(CHANNEL);
  const tell = () => channel.postMessage({ type: "here", setting: lamp.setting() });
  const lamp = ownLamp(box, canvas, () => setTimeout(tell, 0));
  channel.addEventListener("message", ({ data }) => {
    if (data.type === "show") lamp.show(data.what);
    if (data.type === "who") tell();
  });
  addEventListener("pagehide", () => channel.postMessage({ type: "gone" }));
  tell();
  return lamp;
}

/**
 * The light of another window, as seen from the desk.
 * @param {() => void} changed  it came, went, or changed its size
 * @returns {Lamp}
 */
export function farLamp(changed) {
  const channel = new BroadcastChannel(CHANNEL);
  /** @type {ScreenSetting | null} */
  let setting = null;
  /** @type {Shown} */
  let now = { kind: "dark" };
  channel.addEventListener("message", ({ data }) => {
    if (data.type === "here") {
      setting = data.setting;
      channel.postMessage({ type: "show", what: now });
      changed();
    }
    if (data.type === "gone") {
      setting = null;
      changed();
    }
  });
  channel.postMessage({ type: "who" });
  return {
    setting: () => setting,
    show(what) {
      now = what;
      channel.postMessage({ type: "show", what });
    },
  };
}

/** @param {CanvasRenderingContext2D} ctx @param {[number, number]} size @param {Shown} shown */
function drawShown(ctx, size, shown) {
  ctx.setTransform(1, 0, 0, 1, 0, 0);
  ctx.fillStyle = PALETTE.ground;
  ctx.fillRect(0, 0, size[0], size[1]);
  if (shown.kind === "dark") return;
  if (shown.kind === "pattern") return checkerboard(ctx, size, shown.black);
  if (shown.kind === "outline") {
    // Dark on white: the print in the middle must be seen as well as the lines round it.
    checkerboard(ctx, size, []);
    paint(ctx, shown.bands.map((ring) => ({ kind: "area", rings: [ring], shade: "#000000" })), tableMap(shown.map), PALETTE);
    return;
  }
  frame(ctx, size);
  if (shown.kind === "line") {
    const map = tableMap(shown.map);
    paint(ctx, checkItems(shown.line, { shade: "line", look: LOOK }), map, PALETTE);
    return;
  }
  if (shown.kind === "coverage") {
    paint(ctx, coverageItems(shown.coverage, LOOK.cap_mm), tableMap(shown.map), PALETTE);
    return;
  }
  for (const [name, place] of Object.entries(shown.set.crosses)) {
    const asked = !shown.pair || shown.pair.includes(name);
    cross(ctx, size, name, place, asked);
  }
}

/** @param {CanvasRenderingContext2D} ctx @param {[number, number]} size @param {[number, number, number, number][]} black */
function checkerboard(ctx, [w, h], black) {
  ctx.fillStyle = "#ffffff";
  ctx.fillRect(0, 0, w, h);
  ctx.fillStyle = "#000000";
  for (const [x, y, width, height] of black) ctx.fillRect(x, y, width, height);
}

/** One pixel on all four sides: where it cannot be seen, the projector cuts the picture off. @param {CanvasRenderingContext2D} ctx @param {[number, number]} size */
function frame(ctx, [w, h]) {
  ctx.fillStyle = "#ffffff";
  ctx.fillRect(0, 0, w, 1);
  ctx.fillRect(0, h - 1, w, 1);
  ctx.fillRect(0, 0, 1, h);
  ctx.fillRect(w - 1, 0, 1, h);
}

/**
 * A cross whose middle is one pixel: thin near it, so that the tape can be held to the middle.
 * @param {CanvasRenderingContext2D} ctx
 * @param {[number, number]} size
 * @param {string} name
 * @param {[number, number]} place
 * @param {boolean} asked
 */
function cross(ctx, [w, h], name, place, asked) {
  const unit = Math.max(0.4, Math.min(w, h) / 1080);
  const [x, y] = place.map(Math.floor);
  const [arm, thin] = [Math.round(44 * unit), Math.round(10 * unit)];
  ctx.fillStyle = asked ? "#ffffff" : "#777777";
  ctx.fillRect(x - arm, y, 2 * arm + 1, 1);
  ctx.fillRect(x, y - arm, 1, 2 * arm + 1);
  ctx.fillRect(x - arm, y - 1, arm - thin, 3);
  ctx.fillRect(x + thin + 1, y - 1, arm - thin, 3);
  ctx.fillRect(x - 1, y - arm, 3, arm - thin);
  ctx.fillRect(x - 1, y + thin + 1, 3, arm - thin);
  ctx.font = `${asked ? 700 : 400} ${Math.round(40 * unit)}px "Liberation Sans", Arial, sans-serif`;
  ctx.textAlign = "center";
  ctx.textBaseline = "middle";
  // The letter stands towards the middle of the picture, where there is always room.
  const [dx, dy] = [x < w * 0.4 ? 1 : -1, y < h * 0.4 ? 1 : -1];
  ctx.fillText(name, x + dx * 32 * unit, y + dy * 32 * unit);
}
