// How a phone comes in: the code's token, once, for a cookie; then the cutting that moved last.

import { call } from "../api.js";

/** Exchange the token in the address's fragment, if there is one; it is taken out of the address. */
export async function enter() {
  const token = new URLSearchParams(location.hash.slice(1)).get("t");
  if (!token) return;
  history.replaceState(null, "", location.pathname + location.search);
  await call("POST", "/devices/enter", { token });
}

/**
 * The cutting that was moved last.
 * @returns {Promise<{lay: string, cloth: string}>}
 * @throws {Error} when nothing is being cut
 */
export async function newestCutting() {
  const answer = /** @type {{cuttings: {lay_id: string, cloth: string}[]}} */ (await call("GET", "/cuttings"));
  const newest = answer.cuttings[0];
  if (!newest) throw Object.assign(new Error("Nothing is being cut yet."), { hint: "Light a layout at the table, then open this page again." });
  return { lay: newest.lay_id, cloth: newest.cloth };
}
