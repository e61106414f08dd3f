/**
 * How much of a style wants to be looked at, in words. Pure.
 */

/** @import {StyleLook} from "../wire.js" */

/** @param {number} n @param {string} one */
const several = (n, one) => (n === 1 ? `1 ${one}` : `${n} ${one}s`);

/** @param {readonly string[]} parts */
const listed = (parts) => (parts.length < 2 ? parts.join("") : `${parts.slice(0, -1).join(", ")} and ${parts[parts.length - 1]}`);

/** @param {StyleLook} look @returns {{text: string, some: boolean, bad: boolean}} `some`: there is something to see; `bad`: it cannot be laid as it is */
export function lookWords(look) {
  if (!look.readable) return { text: "cannot be read any more", some: true, bad: true };
  const see = /** @type {[number, string][]} */ ([[look.pieces_to_see, "piece"], [look.seams_to_see, "seam"], [look.girths_to_see, "girth"]])
    .filter(([n]) => n > 0)
    .map(([n, one]) => several(n, one));
  const said = [
    ...(look.pieces_refused ? [`${several(look.pieces_refused, "piece")} cannot be cut`] : []),
    ...(see.length ? [`${listed(see)} to look at`] : []),
  ];
  return { text: said.join("; ") || "nothing to mend", some: said.length > 0, bad: look.pieces_refused > 0 };
}
