// Before anything is lit: which layout, or why none.

import { call } from "../api.js";
import { element, heading, wrong } from "./panel.js";

/** @typedef {{id: string, style: string, summary: {cloth: string}[]}} Lay */

/** Links to every layout there is. @returns {Promise<HTMLElement[]>} @throws {import("../api.js").ApiError} */
export async function choosePanel() {
  const { lays } = /** @type {{lays: Lay[]}} */ (await call("GET", "/lays"));
  const links = lays.flatMap((found) => found.summary.map(({ cloth }) => {
    const query = `lay=${found.id}&cloth=${encodeURIComponent(cloth)}`;
    return element("li", {}, element("a", { href: `/table?${query}` }, `${found.style}, ${cloth}`), ", or ", element("a", { href: `/hand?${query}` }, "step it from here"));
  }));
  return [
    heading("Which layout goes on the table?"),
    links.length ? element("ul", {}, ...links) : element("p", {}, "There is no layout yet. Make one at the desk."),
    element("div", { class: "actions" }, element("a", { class: "button", href: "/" }, "To the desk")),
  ];
}

/**
 * @param {{code?: string, message: string, hint?: string}} error
 * @param {() => void} again
 */
export function notBegunPanel(error, again) {
  const first = error.code === "no_map"
    ? element("a", { class: "button main", href: "/calibrate" }, "Calibrate")
    : element("button", { class: "main", click: again }, "Try again");
  return [heading("Nothing is lit"), wrong(error), element("div", { class: "actions" }, first, element("a", { class: "button", href: "/" }, "To the desk"))];
}
