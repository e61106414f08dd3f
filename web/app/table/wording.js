// What the table says in words: the two lines of the strip, and the cautions. Pure.

import { currentStop, stops, walkedThrough } from "./steps.js";

/** @typedef {import("./scene.js").Projection} Projection */
/** @typedef {import("./steps.js").Walk} Walk */

/** Shown once a day before anything is lit to cut by. */
export const CAUTIONS = [
  "Do not look into the projector's lens, and keep your back to it while you work. Show children and helpers where not to stand.",
  "A projector or camera overhead needs a second tether of its own; look at mount and cables before you start.",
  "No cable where feet go, none where the shears go.",
  "Blades: close shears and rotary cutters whenever a hand leaves them. Enough light to see your fingers comes before a bright line.",
  "Rest your hands; long cutting injures them.",
];

/** Who has the last word. */
export const DEFER = "The instructions of the equipment's makers and your local rules come first.";

/**
 * Two lines for the strip.
 * @param {Projection} projection
 * @param {Walk} walk
 * @param {string} [gaps]  what is still to be cut
 * @param {string[]} [cut]  keys of pieces already cut
 * @returns {[string, string]}
 */
export function stripLines(projection, walk, gaps = "", cut = []) {
  const at = `Window ${walk.window + 1} of ${projection.windows.length}`;
  const spread = projection.spreads.find((s) => s.id === projection.windows[walk.window].spread);
  // Something was cut, yet what lies here was never approved.
  const relaid = !walk.approved && cut.length > 0;
  switch (walk.view) {
    case "guides":
      if (relaid) return [`The rest is laid again. ${spread?.lay_text ?? ""}`, `${at}. Enter: look at the new layout.`];
      return [`${spread?.lay_text ?? ""} Nothing to cut yet.`, `${at}. Enter: look at the layout.`];
    case "look":
      return walkedThrough(walk, projection)
        ? ["Is everything there, the right way round, and on sound cloth?", `${at}, all looked at. Enter: light the lines to cut by.`]
        : ["Look through the whole layout before the first cut. Dashed: not to cut yet.", `${at}. Next: the window after this one.`];
    case "whole":
      return [`Everything in this window: ${spread?.plies_text ?? ""}`, `${at}. Enter: one piece at a time.`];
    case "piece":
      return pieceLines(projection, walk, at, gaps, cut);
  }
}

/**
 * "3 of 11": a piece's place in the cutting order.
 * @param {Projection} projection
 * @param {string} key
 */
export function countText(projection, key) {
  return `${projection.order.indexOf(key) + 1} of ${projection.order.length}`;
}

/**
 * @param {Projection} projection
 * @param {Walk} walk
 * @param {string} at
 * @param {string} gaps
 * @param {string[]} cut
 * @returns {[string, string]}
 */
function pieceLines(projection, walk, at, gaps, cut) {
  const stop = currentStop(walk, projection);
  if (!stop) return ["", at];
  switch (stop.kind) {
    case "piece": {
      const piece = projection.pieces.find((p) => p.key === stop.key);
      if (!piece) return ["", at];
      const plies = piece.plies === 1 ? "one ply" : `${piece.plies} plies`;
      const beyond = projection.windows[walk.window].part.some((p) => p.key === stop.key);
      const goes = beyond ? " It goes on in the next window: stop at the bars." : "";
      const done = cut.includes(stop.key) ? " Cut already." : "";
      return [`${piece.label}: ${piece.hand_text}, ${plies}. ${countText(projection, stop.key)}.${done}`, `${at}.${goes}${nextWords(projection, walk)}`];
    }
    case "chalk": return ["Chalk the crosses P, Q and R before the cloth moves.", `${at} is done. Next: crosses at their new place.`];
    case "across": return acrossLines(projection, walk, at, cut);
    case "along": return [`Draw the cloth ${isShiftedAcross(projection, walk) ? "across the table" : "along"} until the chalk lies on the lit crosses.`, `${at}. R: say what is left over. Next: the pieces here.`];
    case "spread": return [spreadOf(projection, walk)?.lay_text ?? "", `${at}. Lay it along the lit edges. Next: the pieces here.`];
    case "end": return gaps ? ["Every piece has been lit.", gaps] : ["Every piece is cut.", "K: the ledger, to call it done."];
  }
}

/** @param {Projection} projection @param {Walk} walk */
function nextWords(projection, walk) {
  const next = stops(projection)[walk.stop + 1];
  if (!next) return "";
  if (next.kind !== "piece") return next.kind === "end" ? " The last piece." : " The last piece in this window.";
  const piece = projection.pieces.find((p) => p.key === next.key);
  return piece ? ` Next: ${piece.label}.` : "";
}

/**
 * Before the rest is opened out: nothing of this part may still be missing.
 * @param {Projection} projection
 * @param {Walk} walk
 * @param {string} at
 * @param {string[]} cut
 * @returns {[string, string]}
 */
function acrossLines(projection, walk, at, cut) {
  const spread = spreadOf(projection, walk);
  const missing = projection.pieces.filter((p) => p.spread === spread?.id && !cut.includes(p.key)).map((p) => p.label);
  const where = `${((spread?.across_mm ?? 0) / 10).toFixed(1)} cm from the ${spread?.squared_end ? "squared end" : "fold"}`;
  if (missing.length) return [`Not all of this part is cut: ${[...new Set(missing)].join(", ")}.`, `${at}. Go back for it. Then cut straight across, ${where}.`];
  return [`Cut straight across at the lit line, ${where}.`, `${at} is done. Next: the rest is opened out.`];
}

/** Was the cloth shifted across the table to come to this window? @param {Projection} projection @param {Walk} walk */
function isShiftedAcross(projection, walk) {
  const [before, here] = [projection.windows[walk.window - 1], projection.windows[walk.window]];
  return before !== undefined && before.box[0] === here.box[0];
}

/** @param {Projection} projection @param {Walk} walk */
function spreadOf(projection, walk) {
  return projection.spreads.find((s) => s.id === projection.windows[walk.window].spread);
}
