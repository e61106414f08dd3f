/**
 * Blanks of a sentence: plain controls with a label for screen readers, which refuse what cannot be
 * read and say so beside the sentence.
 */

/** @import {System} from "./units.js" */
import { html, nothing } from "../vendor/lit-html/lit-html.js";
import { live } from "../vendor/lit-html/directives/live.js";
import { LengthError, parseLength, parsePercent, showBlank, showPercent } from "./units.js";

/** What stands wrong in blanks, by the blank's id. */
export class Troubles {
  /** @param {() => void} changed */
  constructor(changed) {
    /** @type {Map<string, {typed: string, message: string}>} */
    this.known = new Map();
    this.changed = changed;
  }

  /** @param {string} id @param {string} typed @param {string} message */
  set(id, typed, message) {
    this.known.set(id, { typed, message });
    this.changed();
  }

  /** @param {string} id */
  clear(id) {
    this.known.delete(id);
  }

  /** @param {string} prefix of the blanks that are put away */
  forget(prefix) {
    for (const id of [...this.known.keys()]) if (id.startsWith(prefix)) this.known.delete(id);
  }

  /** All messages of blanks whose id begins so. @param {string} prefix */
  view(prefix) {
    const here = [...this.known].filter(([id]) => id.startsWith(prefix));
    return here.map(
      ([id, t]) => html`<p class="say refused" id=${`${id}-trouble`} role="alert">${t.message}</p>`,
    );
  }

  get any() {
    return this.known.size > 0;
  }
}

/**
 * A blank that a person types into; `read` turns text into a value or throws LengthError.
 * @template T
 * @param {object} b
 * @param {string} b.id
 * @param {string} b.label
 * @param {string} b.text what it shows when nothing is wrong
 * @param {(text: string) => T} b.read
 * @param {(value: T) => void} b.onChange
 * @param {Troubles} b.troubles
 * @param {string} [b.placeholder]
 * @param {string} [b.mode] inputmode
 */
export function typedBlank(b) {
  const trouble = b.troubles.known.get(b.id);
  /** @param {Event} event */
  const change = (event) => {
    const input = /** @type {HTMLInputElement} */ (event.target);
    const typed = input.value;
    // Enter has completed the blank already: leaving it then must not read the rounded text it shows.
    if (!input.dataset.typing) return;
    delete input.dataset.typing;
    try {
      const value = b.read(typed);
      b.troubles.clear(b.id);
      b.onChange(value);
    } catch (error) {
      if (!(error instanceof LengthError)) throw error;
      b.troubles.set(b.id, typed, `${capital(b.label)}: ${error.message}`);
    }
  };
  // The page may be painted while somebody types (a search reports, the window is resized): what is
  // half typed stays.
  const now = /** @type {HTMLInputElement | null} */ (document.getElementById(b.id));
  const shown = now?.dataset.typing ? now.value : trouble ? trouble.typed : b.text;
  return html`<input
    class="blank"
    id=${b.id}
    type="text"
    autocomplete="off"
    spellcheck="false"
    inputmode=${b.mode ?? "text"}
    size=${Math.max(3, (shown || b.placeholder || "").length)}
    aria-label=${b.label}
    aria-invalid=${trouble ? "true" : nothing}
    aria-describedby=${trouble ? `${b.id}-trouble` : nothing}
    placeholder=${b.placeholder ?? nothing}
    .value=${live(shown)}
    @input=${(/** @type {Event} */ e) => {
      /** @type {HTMLInputElement} */ (e.target).dataset.typing = "yes";
    }}
    @keydown=${(/** @type {KeyboardEvent} */ e) => {
      if (e.key !== "Enter") return;
      // Enter completes the blank; only the button below starts what the sentence says.
      e.preventDefault();
      change(e);
    }}
    @change=${change}
  />`;
}

/**
 * A length; an empty blank means `null` where `optional` is given, and is refused elsewhere.
 * @param {object} b
 * @param {string} b.id
 * @param {string} b.label
 * @param {number | null} b.mm
 * @param {System} b.system
 * @param {Troubles} b.troubles
 * @param {(mm: number) => void} b.onChange
 * @param {string} [b.none] what an empty blank says; an empty blank then means 0
 * @param {number} [b.least] mm
 */
export const lengthBlank = (b) =>
  typedBlank({
    ...b,
    text: b.mm === null || (b.none !== undefined && b.mm === 0) ? "" : showBlank(b.mm, b.system),
    placeholder: b.none,
    read: (text) => {
      if (!text.trim() && b.none !== undefined) return 0;
      const mm = parseLength(text, b.system === "imperial" ? "in" : "cm");
      if (b.least !== undefined && mm < b.least) throw new LengthError(`it must be at least ${showBlank(b.least, b.system)}.`);
      return mm;
    },
  });

/**
 * A length that may have a minus before it.
 * @param {object} b
 * @param {string} b.id
 * @param {string} b.label
 * @param {number} b.mm
 * @param {System} b.system
 * @param {Troubles} b.troubles
 * @param {(mm: number) => void} b.onChange
 */
export const signedLengthBlank = (b) =>
  typedBlank({
    ...b,
    text: `${b.mm < 0 ? "\u2212" : ""}${showBlank(Math.abs(b.mm), b.system)}`,
    read: (text) => {
      const [, minus, rest] = /^\s*([-\u2212]?)(.*)$/s.exec(text) ?? ["", "", text];
      const mm = parseLength(rest, b.system === "imperial" ? "in" : "cm");
      return minus ? -mm : mm;
    },
  });

/**
 * A length that may be left out: an empty blank gives null.
 * @param {object} b
 * @param {string} b.id
 * @param {string} b.label
 * @param {number | null} b.mm
 * @param {System} b.system
 * @param {Troubles} b.troubles
 * @param {(mm: number | null) => void} b.onChange
 * @param {string} b.none
 * @param {string} [b.unit] of a bare number
 */
export const optionalLengthBlank = (b) =>
  typedBlank({
    ...b,
    text: b.mm === null ? "" : showBlank(b.mm, b.system),
    placeholder: b.none,
    read: (text) => (text.trim() ? parseLength(text, b.unit ?? (b.system === "imperial" ? "in" : "cm")) || null : null),
  });

/**
 * A share in per cent.
 * @param {object} b
 * @param {string} b.id
 * @param {string} b.label
 * @param {number} b.share
 * @param {Troubles} b.troubles
 * @param {(share: number) => void} b.onChange
 * @param {boolean} [b.whole] a part of something, above 0 and up to all of it; else what cloth may lose
 */
export const percentBlank = (b) =>
  typedBlank({
    ...b,
    text: showPercent(b.share),
    mode: "decimal",
    read: (text) => {
      const share = text.trim() ? parsePercent(text, b.whole) : 0;
      if (b.whole) {
        if (share <= 0) throw new LengthError("give more than 0 and at most 100 %.");
        return share;
      }
      if (share >= 0.5) throw new LengthError("cloth that loses half its size cannot be planned for; write it like 3 %.");
      return share;
    },
  });

/**
 * A whole number within limits.
 * @param {object} b
 * @param {string} b.id
 * @param {string} b.label
 * @param {number} b.value
 * @param {number} b.least
 * @param {number} b.most
 * @param {Troubles} b.troubles
 * @param {(value: number) => void} b.onChange
 */
export const countBlank = (b) =>
  typedBlank({
    ...b,
    text: String(b.value),
    mode: "numeric",
    read: (text) => {
      const value = Number(text.trim());
      if (!Number.isInteger(value) || value < b.least || value > b.most || !text.trim()) {
        throw new LengthError(`“${text}” is not a whole number from ${b.least} to ${b.most}.`);
      }
      return value;
    },
  });

/**
 * A price; empty gives null.
 * @param {object} b
 * @param {string} b.id
 * @param {string} b.label
 * @param {number | null} b.value
 * @param {Troubles} b.troubles
 * @param {(value: number | null) => void} b.onChange
 */
export const priceBlank = (b) =>
  typedBlank({
    ...b,
    text: b.value === null ? "" : b.value.toFixed(2),
    placeholder: "a price",
    mode: "decimal",
    read: (text) => {
      if (!text.trim()) return null;
      const value = Number(text.trim().replace(",", "."));
      if (!(value >= 0 && value < 1e6)) throw new LengthError(`“${text}” is not a price. Write it like 12.50.`);
      return value;
    },
  });

/**
 * A free text of one line.
 * @param {object} b
 * @param {string} b.id
 * @param {string} b.label
 * @param {string} b.text
 * @param {Troubles} b.troubles
 * @param {(value: string) => void} b.onChange
 * @param {string} [b.placeholder]
 * @param {boolean} [b.needed]
 */
export const textBlank = (b) =>
  typedBlank({
    ...b,
    read: (text) => {
      if (b.needed && !text.trim()) throw new LengthError("a name is needed here.");
      return text.trim();
    },
  });

/**
 * A choice among few.
 * @template {string} T
 * @param {object} b
 * @param {string} b.id
 * @param {string} b.label
 * @param {T} b.value
 * @param {readonly (readonly [T, string])[]} b.options value and how it is said
 * @param {(value: T) => void} b.onChange
 */
export const choiceBlank = (b) => html`<select
  class="blank"
  id=${b.id}
  aria-label=${b.label}
  .value=${live(b.value)}
  @change=${(/** @type {Event} */ e) => b.onChange(/** @type {T} */ (/** @type {HTMLSelectElement} */ (e.target).value))}
>
  ${b.options.map(([value, text]) => html`<option value=${value} ?selected=${value === b.value}>${text}</option>`)}
</select>`;

/** @param {string} text */
const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);
