// May anybody cut by this light? Pure.

import { settingChanges } from "./surface.js";

/** @typedef {{verdict: string, verdict_text: string, last_checked: string | null, marks_made: string | null, id: string, canvas: [number, number], dpr: number, screen: string, projector_from_table: number[][], lens: import("./map.js").Lens | null}} MapDetail */

/**
 * When the map was last checked, and what to do when something was bumped since.
 * @param {Pick<MapDetail, "last_checked" | "marks_made">} detail
 * @param {Intl.DateTimeFormat} [dates]
 */
export function checkedWords({ last_checked, marks_made }, dates = new Intl.DateTimeFormat(undefined, { dateStyle: "medium", timeStyle: "short" })) {
  const when = last_checked ? `The light was last checked ${dates.format(new Date(last_checked))}.` : "The light was never checked.";
  return `${when} Was projector or table bumped since? ${marks_made ? "Look at the four marks" : "Check it"} before the next cut.`;
}

/**
 * Reasons why not, and a warning; both empty when it may.
 * @param {MapDetail} detail
 * @param {import("./surface.js").ScreenSetting} now
 * @param {boolean} filled  the page fills the screen
 * @returns {[string[], string]}
 */
export function trust(detail, now, filled) {
  const changes = settingChanges(detail, now);
  if (changes.length) return [["Not calibrated for this picture:", ...changes, filled ? "Calibrate again." : "F: fill the screen. If that does not help, calibrate again."], ""];
  if (detail.verdict === "not for cutting") return [[detail.verdict_text], ""];
  if (detail.verdict === "warn") return [[], `Warning: ${detail.verdict_text}`];
  if (detail.verdict === "unchecked") return [[], "Unchecked: light the check lines (C) and measure them before you cut."];
  return [[], ""];
}
