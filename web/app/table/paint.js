// Puts shapes given in table mm onto a canvas through the table map, point by point.

import { slopes, traceLine, pxPerMm } from "./map.js";
import { LEAST_PX, LINE } from "./scene.js";

/** @typedef {import("./scene.js").Item} Item */
/** @typedef {import("./map.js").TableMap} TableMap */
/** @typedef {{line: string, dim: string, ground: string}} Palette */

const FACE = '"Liberation Sans", "Helvetica Neue", Arial, "DejaVu Sans", sans-serif';

/** Size at which letters are measured, px: large, so that hinting does not round the widths. */
const PROBE_PX = 200;

/**
 * @param {CanvasRenderingContext2D} ctx
 * @param {Item[]} items
 * @param {TableMap} map
 * @param {Palette} palette
 * @returns {number} points of outlines and lines that were put on the canvas
 */
export function paint(ctx, items, map, palette) {
  let points = 0;
  for (const item of items) {
    const colour = item.shade.startsWith("#") ? item.shade : palette[/** @type {keyof Palette} */ (item.shade)];
    if (item.kind === "area") points += area(ctx, item.rings, map, colour);
    else if (item.kind === "path") points += path(ctx, item, map, colour);
    else text(ctx, item, map, colour);
  }
  return points;
}

/**
 * Width of a text in mm when its capitals are `cap_mm` high.
 * @param {CanvasRenderingContext2D} ctx
 * @returns {(text: string, cap_mm: number) => number}
 */
export function measurer(ctx) {
  return (said, cap_mm) => {
    ctx.save();
    ctx.font = `600 ${PROBE_PX}px ${FACE}`;
    const cap = ctx.measureText("H").actualBoundingBoxAscent;
    const width = (ctx.measureText(said).width * cap_mm) / cap;
    ctx.restore();
    return width;
  };
}

/** @param {CanvasRenderingContext2D} ctx @param {import("./map.js").TablePoint[][]} rings @param {TableMap} map @param {string} colour */
function area(ctx, rings, map, colour) {
  let points = 0;
  ctx.fillStyle = colour;
  ctx.beginPath();
  for (const ring of rings) {
    points += trace(ctx, traceLine(map, ring, { closed: true }));
    ctx.closePath();
  }
  ctx.fill("nonzero");
  return points;
}

/** @param {CanvasRenderingContext2D} ctx @param {Extract<Item, {kind: "path"}>} item @param {TableMap} map @param {string} colour */
function path(ctx, item, map, colour) {
  const middle = item.points[Math.floor(item.points.length / 2)];
  const [small, large] = pxPerMm(map, middle);
  ctx.strokeStyle = colour;
  ctx.lineWidth = Math.max(LEAST_PX, (item.width * (small + large)) / 2);
  ctx.lineCap = "butt";
  ctx.lineJoin = "round";
  ctx.beginPath();
  const points = trace(ctx, traceLine(map, item.points, { closed: item.closed ?? false }));
  if (item.closed) ctx.closePath();
  ctx.stroke();
  return points;
}

/** @param {CanvasRenderingContext2D} ctx @param {import("./map.js").CanvasPoint[]} line @returns {number} how many points */
function trace(ctx, line) {
  for (let i = 0; i < line.length; i += 1) {
    if (i) ctx.lineTo(line[i][0], line[i][1]);
    else ctx.moveTo(line[i][0], line[i][1]);
  }
  return line.length;
}

/**
 * Words, each in the slope of the map where it stands: a long line set in the slope of its beginning
 * would run off where the picture narrows.
 * @param {CanvasRenderingContext2D} ctx
 * @param {Extract<Item, {kind: "text"}>} item
 * @param {TableMap} map
 * @param {string} colour
 */
function text(ctx, item, map, colour) {
  ctx.save();
  ctx.font = `600 ${PROBE_PX}px ${FACE}`;
  ctx.fillStyle = colour;
  ctx.textAlign = "left";
  ctx.textBaseline = "alphabetic";
  const scale = item.cap / ctx.measureText("H").actualBoundingBoxAscent;
  const [co, si] = [Math.cos(item.turn), Math.sin(item.turn)];
  item.lines.forEach((line, i) => {
    const wide = ctx.measureText(line).width * scale;
    const down = i * LINE * item.cap;
    let along = { start: 0, middle: -wide / 2, end: -wide }[item.anchor];
    for (const word of line.match(/\S+\s*|\s+/g) ?? []) {
      const here = /** @type {import("./map.js").TablePoint} */ ([item.at[0] + co * along + si * down, item.at[1] + si * along - co * down]);
      if (map.reaches(here)) set(ctx, word, map, here, scale * co, scale * si);
      along += ctx.measureText(word).width * scale;
    }
  });
  ctx.restore();
}

/**
 * @param {CanvasRenderingContext2D} ctx
 * @param {string} word
 * @param {TableMap} map
 * @param {import("./map.js").TablePoint} at
 * @param {number} co  cosine of the turn, times the scale
 * @param {number} si
 */
function set(ctx, word, map, at, co, si) {
  const [x, y] = map.toCanvas(at);
  const [a, b, c, d] = slopes(map, at);
  // Letters stand upright on the table (y up), while a canvas counts y downwards: hence the minus.
  ctx.setTransform(a * co + b * si, c * co + d * si, a * si - b * co, c * si - d * co, x, y);
  ctx.fillText(word, 0, 0);
}
