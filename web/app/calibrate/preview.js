// A photograph with the corners found in it: squares on the print, crosses on the light.

import { element, wrong } from "../table/panel.js";

/** @typedef {{camera_px: [number, number][], ids: number[], contrast: number, square_px: number, edge_px: number}} Corners */
/** @typedef {{size_px: [number, number], printed: Corners | null, thrown: Corners | null}} Seen */
/** @typedef {{file: Blob, name: string}} Photo */
/** @typedef {{seen: Seen | null, words: string[], trouble: {message: string, hint?: string} | null}} Look */

const PREVIEW = 800;

/** @param {Photo} photo @param {Look} look @param {() => void} leaveOut */
export function photoView(photo, look, leaveOut) {
  const preview = /** @type {HTMLCanvasElement} */ (element("canvas", { class: "preview", role: "img", "aria-label": `What was found in ${photo.name}` }));
  void drawFound(preview, photo.file, look.seen);
  return element("figure", {},
    preview,
    element("figcaption", {},
      element("strong", {}, photo.name),
      ...(look.trouble ? [wrong(look.trouble)] : look.words.map((w) => element("p", {}, w))),
      element("button", { class: "small", type: "button", "aria-label": `Leave ${photo.name} out`, click: leaveOut }, "Leave it out")));
}

/** @param {HTMLCanvasElement} canvas @param {Blob} file @param {Seen | null} seen */
export async function drawFound(canvas, file, seen) {
  // As the sensor saw it: corners are told in its rows and columns, whichever way the camera was held.
  const picture = await unturned(file).then(createImageBitmap).catch(() => null);
  if (!picture) return;
  const scale = PREVIEW / Math.max(picture.width, picture.height);
  canvas.width = Math.round(picture.width * scale);
  canvas.height = Math.round(picture.height * scale);
  const ctx = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));
  ctx.drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close();
  if (seen) {
    const [kx, ky] = [canvas.width / seen.size_px[0], canvas.height / seen.size_px[1]];
    for (const [x, y] of seen.printed?.camera_px ?? []) mark(ctx, x * kx, y * ky, false);
    for (const [x, y] of seen.thrown?.camera_px ?? []) mark(ctx, x * kx, y * ky, true);
  }
  canvas.dataset.drawn = "yes";
}

/**
 * A JPEG without its APP1 segments, which hold how the camera was held: browsers turn pictures by it,
 * some whatever they are asked. Anything else stays as it is.
 * @param {Blob} file
 */
async function unturned(file) {
  const bytes = new Uint8Array(await file.arrayBuffer());
  if (bytes[0] !== 0xff || bytes[1] !== 0xd8) return file;
  const parts = [bytes.subarray(0, 2)];
  let at = 2;
  // Segments stand before the scan (0xda): a marker, and a length that counts itself.
  while (bytes[at] === 0xff && bytes[at + 1] !== 0xda && at + 4 <= bytes.length) {
    const end = at + 2 + Math.max(2, (bytes[at + 2] << 8) | bytes[at + 3]);
    if (bytes[at + 1] !== 0xe1) parts.push(bytes.subarray(at, end));
    at = end;
  }
  return new Blob([...parts, bytes.subarray(at)]);
}

/** @param {CanvasRenderingContext2D} ctx @param {number} x @param {number} y @param {boolean} light */
function mark(ctx, x, y, light) {
  for (const [width, colour] of /** @type {const} */ ([[4, "#000000"], [1.6, "#ffffff"]])) {
    ctx.lineWidth = width;
    ctx.strokeStyle = colour;
    ctx.beginPath();
    if (light) {
      ctx.moveTo(x - 4, y - 4);
      ctx.lineTo(x + 4, y + 4);
      ctx.moveTo(x - 4, y + 4);
      ctx.lineTo(x + 4, y - 4);
    } else ctx.rect(x - 3, y - 3, 6, 6);
    ctx.stroke();
  }
}
