/**
 * Pieces: the styles, the pieces of the open one as drawings to one scale, and three ways to bring more.
 */

/** @import {Context, Page, Trouble} from "./context.js" */
/** @import {PieceView, StyleDetail, XY} from "./wire.js" */
/** @import {Panel} from "./sheet.js" */
import { html, nothing } from "../vendor/lit-html/lit-html.js";
import { addFile, addSheet, ApiError, deleteStyle, getStyle, putSheet, redoStyle, undoStyle } from "./api.js";
import { choiceBlank, lengthBlank, textBlank } from "./blanks.js";
import { bodyPart } from "./body_part.js";
import { findingsView, trouble, troubleView } from "./context.js";
import { panelDrawing, pieceBox, pieceDrawing } from "./draw/piece.js";
import { newSheet, panelPiece, withPiece } from "./sheet.js";
import { parsePoints, routeHash } from "./state.js";
import { MM_PER } from "./units.js";

/** What one unit of a drawing may be, where the service names no choices of its own. @type {[string, string][]} */
const UNIT_CHOICES = [
  ["96", "one of 96 to the inch"],
  ["90", "one of 90 to the inch"],
  ["72", "one of 72 to the inch"],
  ["mm", "one millimetre"],
  ["cm", "one centimetre"],
  ["in", "one inch"],
];

/** @param {Context} context @returns {Page} */
export function piecesPage(context) {
  /** @type {Trouble | null} */
  let failed = null;
  /** @type {File | null} a file that the service asked about */
  let asked = null;
  let askedUnit = "96";
  let askedSize = "";
  let askedChoices = UNIT_CHOICES;
  let busy = false;
  let dragging = false;
  let adding = false;
  let pointsText = "";
  let pointsTrouble = "";
  /** @type {Panel} */
  let panel = { name: "", form: "rectangle", width_mm: 200, length_mm: 300, points: [], allowance_mm: 15, count: "drawn", cloth: "shell" };
  let panelGoesTo = "new";

  /** @param {() => Promise<void>} work */
  async function attempt(work) {
    busy = true;
    failed = null;
    context.paint();
    try {
      await work();
    } catch (error) {
      failed = trouble(error);
    }
    busy = false;
    context.paint();
  }

  /** @param {StyleDetail} style */
  async function show(style) {
    context.keepStyle(style);
    await context.refreshStyles();
    context.announce(`${style.name}: ${style.pieces.length} pieces.`);
    context.go({ page: "pieces", style: style.id });
  }

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
      // A drawing without a physical unit is never guessed: the person is asked and the file sent again.
      if (error instanceof ApiError && error.code === "unit") {
        asked = file;
        askedChoices = error.choices.length ? error.choices.filter(([v]) => !v.includes("=")) : UNIT_CHOICES;
        if (!askedChoices.some(([v]) => v === askedUnit)) askedUnit = askedChoices[0][0];
      }
      throw error;
    }
  }

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

  /** @param {StyleDetail} style @param {"undo" | "redo"} way */
  const step = (style, way) =>
    attempt(async () => {
      context.keepStyle(await (way === "undo" ? undoStyle : redoStyle)(style.id));
      await context.refreshStyles();
    });

  /** @type {Promise<unknown>} each change is made from the last answer */
  let queue = Promise.resolve();
  const body = bodyPart(context, (change, said) => {
    queue = queue.then(() =>
      attempt(async () => {
        const style = context.style;
        if (!style) return;
        context.keepStyle(await putSheet(style.id, change(style.sheet), style.revision));
        context.announce(said);
      }),
    );
  });

  /** @param {StyleDetail} style */
  function remove(style) {
    if (!confirm(`Take “${style.name}” and its lays off the desk? The file it came from stays where it is.`)) return;
    attempt(async () => {
      await deleteStyle(style.id);
      context.style = null;
      await context.refreshStyles();
      context.go({ page: "pieces", style: context.styles[0]?.id });
    });
  }

  return {
    title: "Pieces",

    async open(route) {
      await context.refreshStyles();
      const id = route.style ?? context.style?.id ?? context.styles[0]?.id;
      if (!id) {
        context.style = null;
        return;
      }
      if (context.style?.id === id) return;
      try {
        context.keepStyle(await getStyle(id));
      } catch (error) {
        context.style = null;
        if (route.style && !(error instanceof ApiError && error.status === 404)) throw error;
        const first = context.styles[0]?.id;
        if (first) context.keepStyle(await getStyle(first));
      }
    },

    view() {
      const style = context.style;
      return html`<div class="pieces-page">
        <aside class="styles" aria-label="Styles">
          <h2>Styles</h2>
          <ul>
            ${context.styles.map(
              (s) => html`<li>
                <a href=${routeHash({ page: "pieces", style: s.id })} aria-current=${s.id === style?.id ? "true" : nothing}>${s.name}</a>
                <span class="soft small">${s.pieces} ${s.pieces === 1 ? "piece" : "pieces"} · ${s.cloths.join(", ")}</span>
              </li>`,
            )}
          </ul>
          ${bringView()}
        </aside>
        <div class="wall-side">
          ${troubleView(failed)} ${asked ? askView() : nothing} ${adding ? panelView() : nothing}
          ${style ? wallView(style) : emptyView()}
        </div>
      </div>`;
    },
  };

  function bringView() {
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
      <p>${busy ? "Reading …" : "Drop a piece sheet or a drawing here (JSON, SVG, DXF, PDF), or"}</p>
      <label class="button slight">choose a file<input class="unseen" type="file" multiple accept=".json,.svg,.dxf,.pdf" @change=${(/** @type {Event} */ e) => {
        const input = /** @type {HTMLInputElement} */ (e.target);
        bring(input.files).finally(() => (input.value = ""));
      }} /></label>
      <button class="button slight" type="button" aria-expanded=${String(adding)} @click=${() => {
        adding = !adding;
        panelGoesTo = context.style ? panelGoesTo : "new";
        context.paint();
        if (adding) requestAnimationFrame(() => document.getElementById("panel-name")?.focus());
      }}>type in a panel</button>
    </div>`;
  }

  function askView() {
    return html`<form
      class="ask sentence"
      @submit=${(/** @type {Event} */ e) => {
        e.preventDefault();
        const file = asked;
        const unit_choice = askedUnit === "measured" ? askedSize : askedUnit;
        if (file && unit_choice) attempt(() => bringOne(file, { unit_choice }));
      }}
    >
      One unit in “${asked?.name}” is
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
  }

  function panelView() {
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
      <p class="row"><button class="button first" ?disabled=${busy}>Enter the panel</button>
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

  function emptyView() {
    return html`<h1>No pieces yet</h1>
      <p class="sentence measure">Drop a piece sheet or a drawing on the left, or type in a panel from the tape measure: a rectangle or a list of points is enough.</p>`;
  }

  /** @param {StyleDetail} style */
  function wallView(style) {
    const roles = [...new Set(style.pieces.map((p) => p.cloth))];
    const k = wallScale(style.pieces);
    const refused = style.pieces.filter((p) => !p.cut_line).length;
    return html`
      <div class="row between style-head">
        <div>
          <h1>${style.name}</h1>
          ${style.note ? html`<p class="soft measure">${style.note}</p>` : nothing}
        </div>
        <div class="row">
          <button class="button slight" ?disabled=${busy || !style.can_undo} @click=${() => step(style, "undo")}>Undo</button>
          <button class="button slight" ?disabled=${busy || !style.can_redo} @click=${() => step(style, "redo")}>Redo</button>
          <button class="button slight" ?disabled=${busy} @click=${() => remove(style)}>Take it off the desk</button>
          <a class="button first" href=${routeHash({ page: "cloth", style: style.id })}>On to the cloth</a>
        </div>
      </div>
      ${refused ? nothing : html`<p class="soft small">Cut pieces at true size, as a file: ${["pdf", "svg", "dxf"].map((kind) => html`<a href=${`/api/styles/${encodeURIComponent(style.id)}/cut.${kind}`} download>${kind.toUpperCase()}</a> `)} &nbsp;·&nbsp; <a href=${`/truing?style=${encodeURIComponent(style.id)}`}>Walk the seams</a>: do they sew together?</p>`}
      ${refused ? html`<p class="say refused">${refused === 1 ? "One piece" : `${refused} pieces`} cannot be cut as drawn; the lay leaves out nothing silently, so mend ${refused === 1 ? "it" : "them"} first.</p>` : nothing}
      ${findingsView(style.findings.filter((f) => f.level !== "note"))}
      ${roles.map((role) => {
        const pieces = style.pieces.filter((p) => p.cloth === role);
        return html`<section class="wall-part">
          <h2>${role} <span class="soft">· ${pieces.length} ${pieces.length === 1 ? "piece" : "pieces"}</span></h2>
          <ul class="wall">
            ${pieces.map((p) => wallPiece(style, p, k))}
          </ul>
        </section>`;
      })}
      ${body.view(style)}
      ${notesView(style)}
      <p class="legend small">${legend()}</p>
    `;
  }

  /** @param {StyleDetail} style */
  function notesView(style) {
    const notes = style.findings.filter((f) => f.level === "note");
    return notes.length
      ? html`<details class="notes"><summary>${notes.length} ${notes.length === 1 ? "note" : "notes"} from reading ${style.source}</summary>${findingsView(notes)}</details>`
      : nothing;
  }

  /** @param {StyleDetail} style @param {PieceView} piece @param {number} k */
  function wallPiece(style, piece, k) {
    const worst = piece.findings.find((f) => f.level === "refused") ?? piece.findings.find((f) => f.level === "warning");
    return html`<li>
      <a class="wall-piece" href=${routeHash({ page: "piece", style: style.id, piece: piece.name })}>
        ${pieceDrawing(piece, { k, label: `${piece.name}, drawn to scale` })}
        <span class="wall-name">${piece.name}</span>
      </a>
      <span class="small">${piece.count_text}</span>
      <span class="small soft">${sizeText(piece)}</span>
      ${worst ? html`<span class="small say ${worst.level}">${worst.message}</span>` : nothing}
    </li>`;
  }

  /** The size in the chosen units, in words. @param {PieceView} piece */
  function sizeText(piece) {
    if (context.system === "metric") return piece.size_text;
    const box = pieceBox({ ...piece, cut_line: null });
    return `${context.len(box.y1 - box.y0)} tall, ${context.len(box.x1 - box.x0)} wide`;
  }

  function legend() {
    return context.say(
      "Solid: cut line. Dashed: net line, where the seam runs. Dash and dot with hatching: fold, never cut. Arrow: grain, along the selvedge; one head means one way only. Short strokes: notches.",
    );
  }
}

/** One scale for the wall: the largest piece about 300 px tall or wide, small ones never lost. @param {readonly PieceView[]} pieces */
function wallScale(pieces) {
  const most = Math.max(1, ...pieces.map((p) => {
    const box = pieceBox(p);
    return Math.max(box.y1 - box.y0, (box.x1 - box.x0) * 1.1);
  }));
  return Math.min(1.2, 300 / most);
}
