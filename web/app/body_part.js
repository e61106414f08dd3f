/**
 * The pieces held against the body: at named lines, what they measure all round, hands and darts
 * counted, beside the body's measure and the ease asked for.
 */

/** @import {Context, Trouble} from "./context.js" */
/** @import {Finding, Girth, Measure, Sheet, StyleDetail} from "./wire.js" */
import { html, nothing } from "../vendor/lit-html/lit-html.js";
import { live } from "../vendor/lit-html/directives/live.js";
import { checkBody } from "./api.js";
import { choiceBlank, lengthBlank, signedLengthBlank } from "./blanks.js";
import { findingsView, trouble, troubleView } from "./context.js";
import { withMeasures } from "./sheet.js";

/** What a new line asks first, mm. */
const FIRST = Object.freeze({ body: 720, ease: 40 });
/** Below this a difference is drawing, not fit, mm. */
const NOTHING_MM = 0.5;

/**
 * @param {Context} context
 * @param {(change: (sheet: Sheet) => Sheet, said: string) => void} keep changes go out one after the other
 */
export function bodyPart(context, keep) {
  /** Which style and revision was asked about. */
  let asked = "";
  /** @type {{girths: Girth[], lines: string[], findings: Finding[]} | null} */
  let answer = null;
  /** As typed, ahead of the answer. @type {Measure[]} */
  let measures = [];
  /** @type {Trouble | null} */
  let failed = null;

  /** @param {StyleDetail} style */
  async function ask(style) {
    const key = `${style.id} ${style.revision}`;
    if (asked === key) return;
    asked = key;
    failed = null;
    try {
      const found = await checkBody(style.id, null);
      if (asked !== key) return;
      answer = found;
      measures = found.girths.map((g) => ({ line: g.line, below: g.below_mm, body: g.body_mm, ease: g.ease_mm, cloth: g.cloth, leave_out: g.leave_out, count_in: g.count_in }));
    } catch (error) {
      if (asked !== key) return;
      answer = null;
      failed = trouble(error);
    }
    context.paint();
  }

  return {
    /** @param {StyleDetail} style */
    view(style) {
      void ask(style);
      if (!answer) return failed ? html`<section class="body-part">${troubleView(failed)}</section>` : nothing;
      const { girths, lines, findings } = answer;
      /** @param {Measure[]} next @param {string} said */
      const set = (next, said) => {
        measures = next;
        keep((sheet) => withMeasures(sheet, next), said);
      };
      return html`<section class="body-part" aria-label="Against the body">
        <h2>Against the body</h2>
        ${girths.length ? nothing : html`<p class="soft measure">Say what the body measures at a line that is drawn on the pieces, and how much ease is meant: the pieces are added up all round, hands counted, darts taken out.</p>`}
        <ul class="girths">${girths.map((g, i) => girthView(g, i, lines, set))}</ul>
        ${context.troubles.view("body-")}
        ${findingsView(findings, false)}
        ${lines.length
          ? html`<p><button class="button slight" @click=${() => set([...measures, { line: nextLine(lines), below: 0, ...FIRST, cloth: style.pieces[0]?.cloth ?? "shell" }], "A line is added.")}>Measure at ${girths.length ? "another" : "a"} line</button></p>`
          : nothing}
      </section>`;
    },
  };

  /** A line that is not measured yet: round the body before anything else. @param {string[]} lines */
  function nextLine(lines) {
    const free = lines.filter((l) => !measures.some((m) => m.line === l && m.below === 0));
    return free.find((l) => /bust|chest|waist|hip|hem/i.test(l)) ?? free[0] ?? lines[0];
  }

  /** @param {Girth} g @param {number} i @param {string[]} lines @param {(next: Measure[], said: string) => void} set */
  function girthView(g, i, lines, set) {
    const { system, troubles, len } = context;
    /** @param {Partial<Measure>} change @param {string} said */
    const change = (change, said) => set(measures.map((m, j) => (j === i ? { ...m, ...change } : m)), said);
    const known = lines.includes(g.line) ? lines : [g.line, ...lines];
    return html`<li>
      <p class="sentence piece-sentence">At the
        ${choiceBlank({ id: `body-${i}-line`, label: `Line ${i + 1} to measure at`, value: g.line, options: known.map((l) => [l, l]), onChange: (line) => change({ line }, `Measured at ${line}.`) })},
        ${lengthBlank({ id: `body-${i}-below`, label: `How far below the line ${g.line}`, mm: g.below_mm, system, troubles, none: "no distance", onChange: (below) => change({ below }, `${len(below)} below it.`) })} below it, the body measures
        ${lengthBlank({ id: `body-${i}-body`, label: `What the body measures at ${g.line}`, mm: g.body_mm, system, troubles, onChange: (body) => change({ body }, `The body measures ${len(body)}.`) })} and
        ${signedLengthBlank({ id: `body-${i}-ease`, label: `Ease at ${g.line}; with a minus for stretch`, mm: g.ease_mm, system, troubles, onChange: (ease) => change({ ease }, `Ease ${len(ease)}.`) })} of ease are meant.</p>
      <p data-girth>The pieces measure <b>${len(g.total_mm)}</b>, ${differs(g)}.
        <button class="plain small" aria-label=${`Measure at ${g.line} no more`} @click=${() => set(measures.filter((_, j) => j !== i), `${g.line} is measured no more.`)}>take it out</button></p>
      ${countsView(g, i, change)}
    </li>`;
  }

  /**
   * Which pieces count, each to be left out or counted in; in the style's order, so that a box stays
   * where it is when it is turned.
   * @param {Girth} g @param {number} i @param {(change: Partial<Measure>, said: string) => void} change
   */
  function countsView(g, i, change) {
    /** @param {string} piece @param {boolean} counts */
    const turn = (piece, counts) => {
      const { leave_out = [], count_in = [] } = measures[i] ?? g;
      const [out, into] = [leave_out.filter((n) => n !== piece), count_in.filter((n) => n !== piece)];
      // What only counts, or does not, because somebody said so is as it was once that is taken back.
      if (counts) change(leave_out.length > out.length ? { leave_out: out } : { count_in: [...into, piece] }, `${piece} counts.`);
      else change(count_in.length > into.length ? { count_in: into } : { leave_out: [...out, piece] }, `${piece} is left out.`);
    };
    const order = new Map(context.style?.pieces.map((p, at) => [p.name, at]));
    const every = [...g.parts.map((p) => ({ ...p, why: "" })), ...g.left_out.map((p) => ({ ...p, mm: 0 }))]
      .sort((p, q) => (order.get(p.piece) ?? 0) - (order.get(q.piece) ?? 0));
    return html`<fieldset class="counts small">
      <legend>Round the body ${g.left_out.length ? "these" : "all of these"} count</legend>
      ${every.map((p) => html`<label class=${p.why ? "out" : ""}><input type="checkbox" .checked=${live(!p.why)} @change=${() => turn(p.piece, Boolean(p.why))} />${p.piece}${p.why ? `: not counted (${p.why})` : ` ${context.len(p.mm)}`}</label>`)}
    </fieldset>`;
  }

  /** @param {Girth} g */
  function differs(g) {
    const { difference_mm: d } = g;
    if (Math.abs(d) < NOTHING_MM) return "as asked";
    return `${context.len(Math.abs(d))} ${d > 0 ? "more" : "less"} than asked`;
  }
}
