/**
 * What every page of the desk is given: habits, words, figures, messages and the way to other pages.
 */

/** @import {System} from "./units.js" */
/** @import {Words} from "./words.js" */
/** @import {Route} from "./state.js" */
/** @import {Finding, StyleDetail, StyleSummary} from "./wire.js" */
/** @import {Troubles} from "./blanks.js" */
import { html, nothing } from "../vendor/lit-html/lit-html.js";
import { ApiError } from "./api.js";

/**
 * @typedef {object} Context
 * @property {System} system
 * @property {Words} words
 * @property {(text: string) => string} say a text of ours in the chosen set of words
 * @property {(mm: number) => string} len a size in the chosen units
 * @property {(mm: number) => string} clothLen a length of cloth in the chosen units
 * @property {() => void} paint draw the page again
 * @property {(text: string) => void} announce to the live region
 * @property {(route: Route) => void} go
 * @property {Troubles} troubles
 * @property {StyleSummary[]} styles
 * @property {StyleDetail | null} style the style that is open
 * @property {(style: StyleDetail) => void} keepStyle
 * @property {() => Promise<void>} refreshStyles
 * @property {string | undefined} lastLay
 * @property {(id: string) => void} keepLay
 */

/**
 * @typedef {object} Page
 * @property {string} title
 * @property {(route: Route) => void | Promise<void>} open
 * @property {() => unknown} view
 * @property {() => void} [close]
 * @property {(event: KeyboardEvent) => void} [key]
 */

/** @typedef {{message: string, hint: string}} Trouble what to show of a failure */

/** @param {unknown} error @returns {Trouble} */
export function trouble(error) {
  if (error instanceof ApiError) return { message: error.message, hint: error.hint };
  return { message: error instanceof Error ? error.message : String(error), hint: "" };
}

/** @param {Trouble | null} t */
export const troubleView = (t) =>
  t ? html`<div class="say refused" role="alert"><p><span class="level">Refused.</span> ${t.message}</p>${t.hint ? html`<p>${t.hint}</p>` : nothing}</div>` : nothing;

/** How a finding's level is said. */
const LEVELS = Object.freeze({ note: "Note.", fixed: "Mended.", warning: "Look before cutting.", refused: "Refused." });

/** @param {readonly Finding[]} findings @param {boolean} [where] whether to name the place */
export const findingsView = (findings, where = true) =>
  findings.length
    ? html`<ul class="findings">
        ${findings.map(
          (f) => html`<li class=${`say ${f.level}`}>
            <p><span class="level">${LEVELS[f.level]}</span> ${where && f.where && !f.message.startsWith(f.where) ? html`<b>${f.where}:</b> ` : nothing}${f.message}</p>
            ${f.hint ? html`<p class="soft">${f.hint}</p>` : nothing}
          </li>`,
        )}
      </ul>`
    : nothing;

/** A text with its fractions set small, so that 1 3/8 reads as one number. @param {string} text */
export const fractions = (text) =>
  text.split(/(\d+\/\d+)/).map((part, i) => (i % 2 ? html`<span class="frac">${part}</span>` : part));

/**
 * A figure that matters, with its name.
 * @param {string} name
 * @param {unknown} value
 * @param {boolean} [great]
 */
export const figure = (name, value, great = false) =>
  html`<div class=${great ? "figure great" : "figure"}><dt>${name}</dt><dd>${typeof value === "string" ? fractions(value) : value}</dd></div>`;
