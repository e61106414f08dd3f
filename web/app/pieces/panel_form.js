/**
 * A panel from the tape measure: a rectangle or a list of points, as a sentence to complete.
 */

/** @import {Desk} from "./desk.js" */
/** @import {XY} from "../wire.js" */
/** @import {Panel} from "../sheet.js" */
import { html, nothing } from "../../vendor/lit-html/lit-html.js";
import { addSheet, putSheet } from "../api.js";
import { choiceBlank, lengthBlank, textBlank } from "../blanks.js";
import { trouble } from "../context.js";
import { panelDrawing } from "../draw/piece.js";
import { newSheet, panelPiece, withPiece } from "../sheet.js";
import { parsePoints } from "../state.js";
import { MM_PER } from "../units.js";

/** @param {Desk} desk */
export function panelForm(desk) {
  const { context, attempt, show } = desk;
  let adding = false;
  let pointsText = "";
  let pointsTrouble = "";
  /** @type {Panel} */
  let panel = { name: "", form: "rectangle", width_mm: 200, length_mm: 300, points: [], allowance_mm: 15, count: "drawn", cloth: "shell" };
  let panelGoesTo = "new";

  /** @param {Event} event */
  function enterPanel(event) {
    event.preventDefault();
    if (context.troubles.any) return;
    if (!panel.name.trim()) {
      context.troubles.set("panel-name", "", "Name of the panel: a name is needed, so that the cutting list can say it.");
      document.getElementById("panel-name")?.focus();
      return;
    }
    if (panel.form === "points") {
      try {
        const scale = context.system === "imperial" ? MM_PER.in : MM_PER.cm;
        panel.points = parsePoints(pointsText).map(([x, y]) => [x * scale, y * scale]);
        pointsTrouble = "";
      } catch (error) {
        pointsTrouble = trouble(error).message;
        context.paint();
        return;
      }
    }
    attempt(async () => {
      const piece = panelPiece(panel);
      const open = context.style;
      const style =
        panelGoesTo === "open" && open
          ? await putSheet(open.id, withPiece(open.sheet, piece), open.revision)
          : await addSheet(newSheet(panel.name, [piece]));
      panel = { ...panel, name: "" };
      adding = false;
      await show(style);
    });
  }

  return {
    /** Opens the form and puts it away. */
    button() {
      return html`<button class="button slight" type="button" aria-expanded=${String(adding)} @click=${() => {
        adding = !adding;
        panelGoesTo = context.style ? panelGoesTo : "new";
        context.paint();
        if (adding) requestAnimationFrame(() => document.getElementById("panel-name")?.focus());
      }}>type in a panel</button>`;
    },

    view: () => (adding ? formView() : nothing),
  };

  function formView() {
    const { troubles, system } = context;
    const unit = system === "imperial" ? "inches" : "centimetres";
    return html`<form class="panel" @submit=${enterPanel}>
      <h2>A panel from the tape measure</h2>
      <p class="sentence">
        ${textBlank({ id: "panel-name", label: "Name of the panel", text: panel.name, placeholder: "its name", troubles, onChange: (v) => set({ name: v }) })}
        is
        ${choiceBlank({
          id: "panel-form",
          label: "How the panel is given",
          value: panel.form,
          options: [["rectangle", "a rectangle"], ["points", "a list of points"]],
          onChange: (v) => set({ form: v }),
        })}${panel.form === "rectangle"
          ? html`,
              ${lengthBlank({ id: "panel-width", label: "Width across the grain", mm: panel.width_mm, system, troubles, least: 1, onChange: (v) => set({ width_mm: v }) })}
              wide and
              ${lengthBlank({ id: "panel-length", label: "Length along the grain", mm: panel.length_mm, system, troubles, least: 1, onChange: (v) => set({ length_mm: v }) })}
              long with the grain`
          : html` in ${unit}, one a line: across, then up, in order round the panel`},
        with
        ${lengthBlank({ id: "panel-allowance", label: "Allowance all round", mm: panel.allowance_mm, system, troubles, none: "no", onChange: (v) => set({ allowance_mm: v }) })}
        allowance, cut
        ${choiceBlank({
          id: "panel-count",
          label: "How many",
          value: panel.count,
          options: [["drawn", "once"], ["pair", "as a pair"], ["two", "twice, both alike"], ["fold", panel.form === "rectangle" ? "on the fold at its left side" : "on the fold along its last side"]],
          onChange: (v) => set({ count: v }),
        })}
        from
        ${textBlank({ id: "panel-cloth", label: "Cloth role", text: panel.cloth, needed: true, troubles, onChange: (v) => set({ cloth: v }) })},
        and goes to
        ${choiceBlank({
          id: "panel-goes",
          label: "Where the panel goes",
          value: context.style ? panelGoesTo : "new",
          options: context.style ? [["new", "a style of its own"], ["open", context.style.name]] : [["new", "a style of its own"]],
          onChange: (v) => {
            panelGoesTo = v;
          },
        })}.
      </p>
      ${panel.form === "points"
        ? html`<label for="panel-points" class="unseen">Points, in ${unit}</label
            ><textarea id="panel-points" class="blank" spellcheck="false" placeholder="0 0&#10;30 0&#10;28.5 42&#10;0 42" aria-invalid=${pointsTrouble ? "true" : nothing} @input=${(/** @type {Event} */ e) => {
              pointsText = /** @type {HTMLTextAreaElement} */ (e.target).value;
              pointsTrouble = "";
              context.paint();
            }}></textarea>`
        : nothing}
      ${panelOutline() ? panelDrawing(/** @type {XY[]} */ (panelOutline()), `${panel.name || "The panel"}, to scale, grain upwards`) : nothing}
      ${pointsTrouble ? html`<p class="say refused" role="alert">${pointsTrouble}</p>` : nothing}
      ${troubles.view("panel-")}
      <p class="row"><button class="button first" ?disabled=${desk.busy()}>Enter the panel</button>
        <button type="button" class="plain" @click=${() => {
          adding = false;
          troubles.known.clear();
          context.paint();
        }}>Put it away</button></p>
    </form>`;
  }

  /** The panel's outline as typed so far, or null while the points are none. @returns {XY[] | null} */
  function panelOutline() {
    const [w, h] = [panel.width_mm, panel.length_mm];
    if (panel.form === "rectangle") return [[0, 0], [w, 0], [w, h], [0, h]];
    const scale = context.system === "imperial" ? MM_PER.in : MM_PER.cm;
    try {
      return parsePoints(pointsText).map(([x, y]) => [x * scale, y * scale]);
    } catch {
      return null;
    }
  }

  /** @param {Partial<Panel>} change */
  function set(change) {
    panel = { ...panel, ...change };
    context.paint();
  }
}
