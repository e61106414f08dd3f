// Before anything is lit: which layout, or why none.

import { call } from "../api.js";
import { element, heading, wrong } from "./panel.js";

/** @typedef {{id: string, style: string, created: string, summary: {cloth: string, buy_text: string}[]}} Lay */

/** Links to every layout there is. @returns {Promise<HTMLElement[]>} @throws {import("../api.js").ApiError} */
export async function choosePanel() {
  const { lays } = /** @type {{lays: Lay[]}} */ (await call("GET", "/lays"));
  const links = lays.flatMap((found) => found.summary.map(({ cloth, buy_text }) => {
    const when = new Date(found.created).toLocaleString(document.documentElement.lang, { dateStyle: "medium", timeStyle: "short" });
    const query = `lay=${found.id}&cloth=${encodeURIComponent(cloth)}`;
    return element("li", {}, element("a", { href: `/table?${query}` }, `${found.style}, ${cloth}`), ` (${buy_text}, laid ${when}), or `, element("a", { href: `/hand?${query}` }, "step it from here"));
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
