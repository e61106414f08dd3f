/**
 * Changes of a piece: a sentence says what is wanted, the drawing shows it dashed, and nothing is kept
 * before it is taken.
 */

/** @import {Hub} from "./hub.js" */
/** @import {Aiming} from "./change_handles.js" */
/** @import {Kind, Wish} from "./wishes.js" */
/** @import {ChangeAnswer, PieceView, XY} from "../wire.js" */
/** @import {Handle} from "../draw/handles.js" */
/** @import {View} from "../draw/lines.js" */
/** @import {Trouble} from "../context.js" */
import { html, nothing, svg } from "../../vendor/lit-html/lit-html.js";
import { ApiError, putSheet, tryChange } from "../api.js";
import { choiceBlank } from "../blanks.js";
import { findingsView, trouble } from "../context.js";
import { pathData } from "../draw/lines.js";
import { previewDrawing } from "../draw/piece.js";
import { routeHash } from "../state.js";
import { changeSentence } from "./change_forms.js";
import { changeHandles, clicked } from "./change_handles.js";
import { changeOf, cutLine, firstWish, KINDS, lacks, levelLine } from "./wishes.js";

/** @param {Hub} hub */
export function changePart(hub) {
  const { context } = hub;
  /** @type {Kind | ""} */
  let kind = "";
  /** @type {Wish | null} */
  let wish = null;
  /** What it would make. @type {{answer: ChangeAnswer, revision: number} | null} */
  let preview = null;
  /** @type {Trouble | null} */
  let refused = null;
  /** @type {AbortController | null} the question that is out */
  let asking = null;
  /** @type {Aiming} */
  let aiming = "";
  /** What was taken last. @type {{text: string, made: string[]} | null} */
  let taken = null;

  /** @param {Kind | ""} next */
  function choose(next) {
    kind = next;
    taken = null;
    aiming = "";
    context.troubles.forget("change-");
    wish = kind ? fitted(kind, firstWish(hub.piece(), hub.picked()), hub.piece()) : null;
    ask();
  }

  /** @param {Partial<Wish>} change */
  function set(change) {
    if (!wish) return;
    wish = { ...wish, ...change };
    ask();
  }

  /** Ask the service what the change would make; a newer question takes the place of an older one. */
  async function ask() {
    asking?.abort();
    asking = null;
    const piece = hub.piece();
    const change = kind && wish && piece ? changeOf(kind, wish, piece) : null;
    if (!change) {
      preview = refused = null;
      context.paint();
      return;
    }
    const mine = (asking = new AbortController());
    const { id, revision } = hub.style();
    context.paint();
    try {
      const answer = await tryChange(id, piece.name, change, mine.signal);
      if (asking !== mine) return;
      preview = { answer, revision };
      refused = null;
      context.announce(`Preview: ${sentence(answer.text)}`);
    } catch (error) {
      if (asking !== mine) return;
      preview = null;
      refused = trouble(error);
      if (!(error instanceof ApiError)) throw error;
    }
    asking = null;
    context.paint();
  }

  async function take() {
    if (!preview || asking || preview.revision !== hub.style().revision) return;
    const { answer, revision } = preview;
    const { id } = hub.style();
    const open = hub.piece().name;
    if (!(await hub.send(() => putSheet(id, answer.sheet, revision), sentence(answer.text)))) return;
    taken = { text: answer.text, made: answer.made };
    kind = "";
    wish = preview = null;
    if (answer.gone.includes(open) && answer.made[0]) context.go({ page: "piece", style: id, piece: answer.made[0] });
    context.paint();
  }

  return {
    /** The style is another one than before: ask again. */
    styleChanged() {
      if (kind && hub.piece()) ask();
    },

    /** Another piece is looked at. @param {boolean} sameStyle */
    leave(sameStyle) {
      asking?.abort();
      asking = null;
      kind = "";
      wish = preview = refused = null;
      aiming = "";
      if (!sameStyle) taken = null;
    },

    /** @returns {boolean} whether a change is being thought about */
    get open() {
      return kind !== "";
    },

    /** @returns {PieceView[]} what would be made */
    get views() {
      return preview?.answer.views ?? [];
    },

    /** @returns {boolean} whether a click on the drawing means something here */
    get takesClicks() {
      return kind === "split" ? aiming !== "" : kind !== "" && ["move dart", "lengthen"].includes(kind);
    },

    /** A click on the drawing. @param {XY} p */
    click(p) {
      if (!kind || !wish) return;
      const change = clicked(kind, wish, hub.piece(), p, aiming, context.system);
      if (aiming === "start") aiming = "way";
      else if (aiming && change?.end) aiming = "";
      if (change) set(change);
    },

    /** @param {PieceView} p @returns {Handle[]} */
    handles(p) {
      return kind && wish ? changeHandles(kind, () => /** @type {Wish} */ (wish), p, { len: context.len, set }) : [];
    },

    /** @param {PieceView} p @param {View} view */
    drawing(p, view) {
      if (!kind || !wish) return nothing;
      const line = kind === "split" ? cutLine(wish, p) : kind === "lengthen" ? levelLine(wish, p) : null;
      return svg`${preview ? previewDrawing(preview.answer.views, view) : nothing}
        ${line && !preview ? svg`<path class="l l-preview" d=${pathData(line, view, false)}></path>` : nothing}`;
    },

    /** @param {PieceView} p */
    view(p) {
      const missing = kind ? lacks(kind, p) : "";
      return html`<section class="changes" aria-label="Changes of this piece">
        <h2>Change this piece</h2>
        ${taken ? html`<p class="say" data-taken>${sentence(taken.text)} ${taken.made.filter((m) => m !== p.name).map((m) => html`<a href=${routeHash({ page: "piece", style: hub.style().id, piece: m })}>${m}</a> `)}</p>` : nothing}
        <p class="sentence piece-sentence">I want to
          ${choiceBlank({ id: "change-kind", label: "What to change", value: kind, options: [["", "leave it as it is"], ...KINDS], onChange: choose })}.
          ${kind && wish && !missing ? changeSentence(kind, wish, p, { context, set, roles: [...new Set(hub.style().pieces.map((x) => x.cloth))] }) : nothing}
        </p>
        ${kind === "split" && wish
          ? html`<p><button class="button slight" aria-pressed=${String(aiming !== "")} @click=${() => {
              aiming = aiming ? "" : "start";
              context.announce(aiming ? "Click on the edge where the cut begins, then on points that it passes, if any, then on the edge where it ends." : "");
              context.paint();
            }}>Draw it with clicks</button> <span class="small soft">${aiming === "start" ? "Click on the edge where it begins." : aiming ? "Click points inside that it passes, if any; then the edge where it ends." : ""}</span></p>`
          : nothing}
        ${missing ? html`<p class="say">That cannot be done to ${p.name}: ${missing}.</p>` : nothing}
        ${context.troubles.view("change-")}
        ${refused && kind && !missing ? html`<div class="say warning"><p><span class="level">Not so.</span> ${refused.message}</p>${refused.hint ? html`<p class="soft">${refused.hint}</p>` : nothing}</div>` : nothing}
        ${preview && kind ? previewWords(preview.answer) : nothing}
        ${kind
          ? html`<p class="row">
              <button class="button first" ?disabled=${hub.busy() || !preview || asking !== null || context.troubles.any} @click=${take}>Take this change</button>
              <button class="plain" @click=${() => choose("")}>Leave it</button></p>`
          : nothing}
      </section>`;
    },
  };

  /** @param {ChangeAnswer} answer */
  function previewWords(answer) {
    const worst = answer.views.flatMap((v) => v.findings.filter((f) => f.level === "warning" || f.level === "refused"));
    return html`<p class="say" data-preview>Dashed on the drawing: ${sentence(answer.text)}${answer.touched.length ? ` ${answer.touched.join(", ")}: sewing partners are renamed to suit.` : ""}</p>
      ${findingsView([...answer.findings, ...worst])}`;
  }
}

/** @param {string} text with one full stop at its end, whether it came with one or not */
const sentence = (text) => `${text.replace(/[.\s]+$/, "")}.`;

/** The first wish of a kind, on edges that suit it. @param {Kind} kind @param {Wish} wish @param {PieceView} p @returns {Wish} */
function fitted(kind, wish, p) {
  /** @param {(e: PieceView["edges"][number]) => boolean} suits */
  const edge = (suits) => (suits(p.edges.find((e) => e.name === wish.edge) ?? p.edges[0]) ? wish.edge : p.edges.find(suits)?.name ?? wish.edge);
  if (kind === "hem facing") return { ...wish, edge: edge((e) => e.kind === "hem") };
  if (kind === "stand") return { ...wish, edge: edge((e) => Math.abs(e.length_mm - Math.hypot(e.points[0][0] - e.points[e.points.length - 1][0], e.points[0][1] - e.points[e.points.length - 1][1])) < 0.05) };
  if (kind === "facing") {
    const name = edge((e) => e.kind !== "fold" && e.kind !== "hem");
    return { ...wish, edge: name, upto: name };
  }
  return wish;
}
