/**
 * Bringing pieces in as files: chosen or dropped, one after the other; a drawing without a physical
 * unit is asked about and sent again, never guessed.
 */

/** @import {Desk} from "./desk.js" */
import { html, nothing } from "../../vendor/lit-html/lit-html.js";
import { addFile, ApiError } from "../api.js";
import { choiceBlank, textBlank } from "../blanks.js";

/** What one unit of a drawing may be, where the service names no choices of its own. @type {[string, string][]} */
const UNIT_CHOICES = [
  ["96", "one of 96 to the inch"],
  ["90", "one of 90 to the inch"],
  ["72", "one of 72 to the inch"],
  ["mm", "one millimetre"],
  ["cm", "one centimetre"],
  ["in", "one inch"],
];

/** @param {Desk} desk */
export function bringPart(desk) {
  const { context, attempt, show } = desk;
  /** @type {File | null} a file that the service asked about */
  let asked = null;
  let askedUnit = "96";
  let askedSize = "";
  let askedChoices = UNIT_CHOICES;
  let dragging = false;

  /** @param {FileList | null | undefined} files */
  const bring = (files) =>
    attempt(async () => {
      for (const file of files ?? []) await bringOne(file, {});
    });

  /** @param {File} file @param {Record<string, string>} fields */
  async function bringOne(file, fields) {
    try {
      const style = await addFile(file, fields);
      asked = null;
      await show(style);
    } catch (error) {
      if (error instanceof ApiError && error.code === "unit") {
        asked = file;
        askedChoices = error.choices.length ? error.choices.filter(([v]) => !v.includes("=")) : UNIT_CHOICES;
        if (!askedChoices.some(([v]) => v === askedUnit)) askedUnit = askedChoices[0][0];
      }
      throw error;
    }
  }

  return {
    /** The place to drop files on; what else brings pieces stands beside the button. @param {unknown} beside */
    view(beside) {
      return html`<div
      class=${dragging ? "bring over" : "bring"}
      @dragover=${(/** @type {DragEvent} */ e) => {
        e.preventDefault();
        if (!dragging) {
          dragging = true;
          context.paint();
        }
      }}
      @dragleave=${() => {
        dragging = false;
        context.paint();
      }}
      @drop=${(/** @type {DragEvent} */ e) => {
        e.preventDefault();
        dragging = false;
        bring(e.dataTransfer?.files);
      }}
    >
      <p>${desk.busy() ? "Reading …" : "Drop a piece sheet or a drawing here (JSON, SVG, DXF, PDF), or"}</p>
      <label class="button slight">choose a file<input class="unseen" type="file" multiple accept=".json,.svg,.dxf,.pdf" @change=${(/** @type {Event} */ e) => {
        const input = /** @type {HTMLInputElement} */ (e.target);
        bring(input.files).finally(() => (input.value = ""));
      }} /></label>
      ${beside}
    </div>`;
    },

    /** What a drawing's unit is, where the service asked. */
    askView() {
      if (!asked) return nothing;
      return html`<form
      class="ask sentence"
      @submit=${(/** @type {Event} */ e) => {
        e.preventDefault();
        const file = asked;
        const unit_choice = askedUnit === "measured" ? askedSize : askedUnit;
        if (file && unit_choice) attempt(() => bringOne(file, { unit_choice }));
      }}
    >
      One unit in “${asked.name}” is
      ${choiceBlank({
        id: "ask-unit",
        label: "Unit of the drawing",
        value: askedUnit,
        options: [...askedChoices, ["measured", "known from a piece that I measured"]],
        onChange: (v) => {
          askedUnit = v;
          context.paint();
        },
      })}${askedUnit === "measured"
        ? html`:
            ${textBlank({ id: "ask-size", label: "A measured size, like tall Front = 62.4 cm", text: askedSize, placeholder: "tall Front = 62.4 cm", troubles: context.troubles, onChange: (v) => {
              askedSize = v;
            } })}`
        : nothing}.
      <button class="button first">Read it so</button>
    </form>`;
    },
  };
}
