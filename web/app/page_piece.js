/**
 * One piece: pick an edge by eye or in the list, type an allowance, see the cut line at once.
 */

/** @import {Context, Page, Trouble} from "./context.js" */
/** @import {AllowanceState, EdgeKind, EdgeView, PieceView, Sheet, StyleDetail} from "./wire.js" */
import { html, nothing } from "../vendor/lit-html/lit-html.js";
import { getStyle, putSheet, redoStyle, undoStyle, ApiError } from "./api.js";
import { choiceBlank, countBlank, lengthBlank } from "./blanks.js";
import { findingsView, fractions, trouble, troubleView } from "./context.js";
import { pieceBox, pieceDrawing } from "./draw/piece.js";
import { changeEdge, changePiece, notchesOf, partnerOf, withNotches, withoutPiece } from "./sheet.js";
import { routeHash } from "./state.js";

/** @type {readonly [string, string][]} */
const GRAIN_RULES = [
  ["either way", "either way along the selvedge"],
  ["one way", "one way only, as the arrow points"],
  ["quarter turns", "along or across"],
  ["bias", "on the bias, at 45 degrees"],
  ["any way", "any way at all"],
];

/** @type {readonly [EdgeKind, string][]} */
const KINDS = [["seam", "seam"], ["hem", "hem"], ["fold", "fold"], ["finished", "finished edge"]];

/** @type {readonly [AllowanceState, string][]} */
const STATES = [["add", "add"], ["included", "included in the drawn line"], ["none", "none"]];

/** @param {Context} context @returns {Page} */
export function piecePage(context) {
  let name = "";
  let picked = 0;
  let busy = false;
  /** @type {Trouble | null} */
  let failed = null;
  /** @type {Promise<void>} changes go out one after the other: each is made from the last answer */
  let queue = Promise.resolve();

  const style = () => /** @type {StyleDetail} */ (context.style);
  const piece = () => style()?.pieces.find((p) => p.name === name);

  /** @param {() => Promise<StyleDetail>} work @param {string} said */
  function send(work, said) {
    queue = queue.then(async () => {
      busy = true;
      failed = null;
      context.paint();
      try {
        context.keepStyle(await work());
        context.announce(said);
      } catch (error) {
        failed = trouble(error);
        if (error instanceof ApiError && error.status === 409) {
          context.keepStyle(await getStyle(style().id));
          failed = { message: "This style was changed in another window meanwhile; what you see now is the newer one.", hint: "Make your change again if it is still wanted." };
        }
      }
      busy = false;
      context.paint();
    });
    return queue;
  }

  /** @param {(sheet: Sheet) => Sheet} change @param {string} said */
  const edit = (change, said) =>
    send(() => putSheet(style().id, change(style().sheet), style().revision), said);

  /** @param {"undo" | "redo"} way */
  const step = (way) =>
    send(() => (way === "undo" ? undoStyle : redoStyle)(style().id), way === "undo" ? "Undone." : "Done again.");

  /** @param {number} index */
  function pick(index) {
    picked = index;
    context.paint();
    requestAnimationFrame(() => {
      const field = document.getElementById(`edge-${index}-width`) ?? document.getElementById(`edge-${index}-state`);
      field?.focus();
      if (field instanceof HTMLInputElement) field.select();
    });
  }

  return {
    title: "Piece",

    async open(route) {
      if (route.piece !== name) picked = 0;
      name = route.piece ?? "";
      failed = null;
      if (route.style && context.style?.id !== route.style) context.keepStyle(await getStyle(route.style));
      this.title = name;
    },

    key(event) {
      if (!(event.ctrlKey || event.metaKey) || event.altKey) return;
      const letter = event.key.toLowerCase();
      // A blank that is being typed in keeps its own undo.
      if (event.target instanceof HTMLElement && event.target.dataset.typing) return;
      if (letter === "z" && !event.shiftKey) {
        event.preventDefault();
        step("undo");
      } else if ((letter === "z" && event.shiftKey) || letter === "y") {
        event.preventDefault();
        step("redo");
      }
    },

    view() {
      const s = style();
      const p = piece();
      if (!s) return html`<h1>No style is open</h1><p><a href="#/pieces">Back to the pieces</a></p>`;
      if (!p) {
        return html`<h1>There is no piece “${name}” in ${s.name}</h1>
          <p>It may have been renamed or undone. <a href=${routeHash({ page: "pieces", style: s.id })}>Back to the pieces</a></p>
          <p class="row"><button class="button slight" @click=${() => step("undo")}>Undo</button><button class="button slight" @click=${() => step("redo")}>Redo</button></p>`;
      }
      const at = s.pieces.indexOf(p);
      const [before, after] = [s.pieces[at - 1], s.pieces[at + 1]];
      return html`<div class="piece-page">
        <div class="row between style-head">
          <div>
            <p class="small"><a href=${routeHash({ page: "pieces", style: s.id })}>${s.name}</a></p>
            <h1>${p.name}</h1>
          </div>
          <div class="row">
            ${before ? html`<a class="button slight" href=${routeHash({ page: "piece", style: s.id, piece: before.name })}>Before: ${before.name}</a>` : nothing}
            ${after ? html`<a class="button slight" href=${routeHash({ page: "piece", style: s.id, piece: after.name })}>Next: ${after.name}</a>` : nothing}
            <button class="button slight" ?disabled=${busy || !s.can_undo} @click=${() => step("undo")}>Undo</button>
            <button class="button slight" ?disabled=${busy || !s.can_redo} @click=${() => step("redo")}>Redo</button>
          </div>
        </div>
        ${troubleView(failed)}
        <div class="piece-split">
          <div class="piece-board">${boardView(p)}</div>
          <div class="piece-words">
            ${sentenceView(p)} ${edgesView(p)} ${partnerView(p)} ${notchesView(p)} ${context.troubles.view("edge-")} ${context.troubles.view("piece-")}
            ${findingsView(p.findings, false)}
            ${marksView(p)}
            <p><button class="plain" @click=${() => {
              if (!confirm(`Take ${p.name} out of ${s.name}? Undo brings it back.`)) return;
              edit((sheet) => withoutPiece(sheet, p.name), `${p.name} is taken out.`).then(() => context.go({ page: "pieces", style: s.id }));
            }}>Take this piece out of the style</button></p>
          </div>
        </div>
      </div>`;
    },
  };

  /** @param {PieceView} p */
  function boardView(p) {
    const box = pieceBox(p);
    const wide = Math.max(200, Math.min(window.innerWidth < 900 ? window.innerWidth - 48 : window.innerWidth * 0.5, 980));
    const tall = Math.max(380, window.innerHeight * 0.72);
    const k = Math.min((wide - 60) / Math.max(1, box.x1 - box.x0), (tall - 60) / Math.max(1, box.y1 - box.y0), 4);
    return pieceDrawing(p, {
      k,
      margin: 30,
      label: `${p.name} with its net and cut line. The list of edges beside it does the same by keyboard.`,
      picked,
      onPick: pick,
      named: true,
    });
  }

  /** @param {PieceView} p */
  function sentenceView(p) {
    const { troubles } = context;
    const roles = [...new Set([...style().pieces.map((x) => x.cloth), "shell", "lining", "interfacing"])];
    return html`<p class="sentence piece-sentence">
      Cut
      ${countBlank({ id: "piece-drawn", label: "How many as drawn", value: p.count.drawn, least: 0, most: 99, troubles, onChange: (v) => setCount(p, { drawn: v, turned: p.count.turned }) })}
      ${p.on_fold ? "whole on the fold" : "as drawn"} and
      ${countBlank({ id: "piece-turned", label: "How many turned over", value: p.count.turned, least: 0, most: 99, troubles, onChange: (v) => setCount(p, { drawn: p.count.drawn, turned: v }) })}
      turned over, from
      ${choiceBlank({ id: "piece-cloth", label: "Cloth role", value: p.cloth, options: roles.map((r) => [r, r]), onChange: (v) => edit((s) => changePiece(s, p.name, { cloth: v }), `${p.name} is cut from ${v}.`) })},
      with the grain
      ${choiceBlank({ id: "piece-rule", label: "Grain rule", value: p.grain_rule, options: GRAIN_RULES.map(([v, t]) => [v, context.say(t)]), onChange: (v) => edit((s) => changePiece(s, p.name, { grain_rule: v }), `Grain: ${v}.`) })}.
      Its grain line
      ${choiceBlank({
        id: "piece-grain",
        label: "Where the grain line runs",
        value: "",
        options: /** @type {[string, string][]} */ ([["", p.grain ? "runs as drawn" : "is not drawn yet"], ["up", "runs up the drawing"], ["along", "runs across the drawing"]]),
        onChange: (v) => v && edit((s) => changePiece(s, p.name, { grain: /** @type {"up" | "along"} */ (v) }), "The grain line is set."),
      })}.
      The drawn line is
      ${choiceBlank({ id: "piece-drawn-as", label: "What the drawn line is", value: p.drawn_as, options: [["net", "the net line"], ["cut", "the cut line"]], onChange: (v) => edit((s) => changePiece(s, p.name, { drawn: v }), `Drawn as ${v} line.`) })}.
    </p>
    <p class="soft">${p.count_text}; ${context.system === "metric" ? p.size_text : sizeInches(p)}${p.area_mm2 ? html`; ${areaText(p.area_mm2)}` : nothing}</p>`;
  }

  /** @param {PieceView} p @param {{drawn: number, turned: number}} count */
  function setCount(p, count) {
    if (count.drawn + count.turned === 0) {
      context.troubles.set("piece-drawn", "0", "A piece that is cut no times belongs out of the style: take it out below, or give a count.");
      return;
    }
    edit((s) => changePiece(s, p.name, { count }), `Count: ${count.drawn} as drawn, ${count.turned} turned over.`);
  }

  /** @param {PieceView} p */
  function sizeInches(p) {
    const box = pieceBox({ ...p, cut_line: null });
    return `${context.len(box.y1 - box.y0)} tall, ${context.len(box.x1 - box.x0)} wide`;
  }

  /** @param {number} mm2 */
  function areaText(mm2) {
    return context.system === "metric" ? `cut area ${Math.round(mm2 / 100)} cm²` : `cut area ${Math.round(mm2 / 645.16)} square inches`;
  }

  /** @param {PieceView} p */
  function edgesView(p) {
    return html`<div class="scroll-x"><table class="edges">
      <caption class="unseen">Edges of ${p.name}, in order round the piece</caption>
      <thead><tr><th scope="col">Edge</th><th scope="col">Kind</th><th scope="col">Allowance</th><th scope="col" class="num">Length</th></tr></thead>
      <tbody>
        ${p.edges.map((edge, i) => edgeRow(p, edge, i))}
      </tbody>
    </table></div>
    <p class="small"><a href="/edges">How edges become cut lines</a>, with a drawing for each kind of corner and dart</p>`;
  }

  /** @param {PieceView} p @param {EdgeView} edge @param {number} i */
  function edgeRow(p, edge, i) {
    const { system, troubles } = context;
    const at = { name: edge.name, index: i };
    const state = edge.allowance.state;
    return html`<tr class=${i === picked ? "picked" : ""} @focusin=${() => {
      if (picked !== i) {
        picked = i;
        context.paint();
      }
    }}>
      <th scope="row"><button class="plain edge-pick" aria-pressed=${String(i === picked)} @click=${() => pick(i)}>${edge.name}</button></th>
      <td>${choiceBlank({ id: `edge-${i}-kind`, label: `Kind of edge ${edge.name}`, value: edge.kind, options: KINDS, onChange: (v) => edit((s) => changeEdge(s, p.name, at, v === "fold" ? { kind: v, allowance: { state: "none", width_mm: 0 } } : { kind: v }), `${edge.name} is a ${v}.`) })}</td>
      <td class="allowance">${edge.kind === "fold"
        ? html`<span class="soft">none on a fold</span>`
        : html`${choiceBlank({ id: `edge-${i}-state`, label: `Allowance on ${edge.name}`, value: state, options: STATES, onChange: (v) => edit((s) => changeEdge(s, p.name, at, { allowance: { state: v, width_mm: v === "none" ? 0 : edge.allowance.width_mm || 15 } }), `${edge.name}: ${v}.`) })}
            ${state === "none"
              ? nothing
              : lengthBlank({ id: `edge-${i}-width`, label: `Width of the allowance on ${edge.name}`, mm: edge.allowance.width_mm, system, troubles, onChange: (v) => edit((s) => changeEdge(s, p.name, at, { allowance: { state, width_mm: v } }), `${edge.name}: ${context.len(v)}. The cut line is drawn anew.`) })}
            <span class="small">and ${lengthBlank({ id: `edge-${i}-inlay`, label: `Inlay on ${edge.name}, to let out later`, mm: edge.inlay_mm, system, troubles, none: "no", onChange: (v) => edit((s) => changeEdge(s, p.name, at, { inlay_mm: v }), `${edge.name}: inlay ${context.len(v)}.`) })} inlay</span>`}</td>
      <td class="num">${fractions(context.len(edge.length_mm))}</td>
    </tr>`;
  }

  /** What the picked edge is sewn to: the seam is then walked by the service. @param {PieceView} p */
  function partnerView(p) {
    const edge = p.edges[picked];
    if (!edge || edge.kind === "fold") return nothing;
    const at = { name: edge.name, index: picked };
    const now = partnerOf(style().sheet, p.name, at);
    /** @type {[string, string][]} */
    const options = [["", "nothing that is named"]];
    for (const other of style().pieces) {
      for (const e of other.edges) {
        if (e.kind !== "fold" && !(other === p && e === edge)) options.push([`${other.name}/${e.name}`, `${other.name}, ${e.name}`]);
      }
    }
    if (now && !options.some(([v]) => v === now)) options.push([now, now]);
    return html`<p class="sentence piece-sentence">The edge <b>${edge.name}</b> is sewn to
      ${choiceBlank({ id: "edge-partner", label: `What ${edge.name} is sewn to`, value: now, options, onChange: (v) => edit((s) => changeEdge(s, p.name, at, { partner: v }), v ? `${edge.name} is sewn to ${v}.` : `${edge.name} is sewn to nothing that is named.`) })}.</p>
      <p class="small"><a href=${`/truing?style=${encodeURIComponent(style().id)}`}>See all seams walked</a>: lengths, notches and joined edges compared</p>`;
  }

  /** @param {PieceView} p */
  function notchesView(p) {
    const { system, troubles } = context;
    const notches = notchesOf(style().sheet, p.name);
    const edges = p.edges.filter((e) => e.kind !== "fold").map((e) => /** @type {[string, string]} */ ([e.name, e.name]));
    /** @param {number} i @param {Partial<import("./sheet.js").NotchSaid>} change */
    const set = (i, change) =>
      edit((s) => withNotches(s, p.name, notches.map((n, j) => (j === i ? { ...n, ...change } : n))), "The notch is moved.");
    return html`<section>
      <h2>Notches</h2>
      <ul class="notch-list">
        ${notches.map((n, i) => html`<li>
          A ${choiceBlank({ id: `edge-notch-${i}-marks`, label: `Notch ${i + 1}: single or double`, value: String(n.marks), options: [["1", "single"], ["2", "double"], ["3", "triple"]], onChange: (v) => set(i, { marks: Number(v) }) })} one on
          ${choiceBlank({ id: `edge-notch-${i}-edge`, label: `Notch ${i + 1}: edge`, value: n.edge, options: edges, onChange: (v) => set(i, { edge: v }) })},
          ${lengthBlank({ id: `edge-notch-${i}-distance`, label: `Notch ${i + 1}: distance along the edge`, mm: n.distance_mm, system, troubles, onChange: (v) => set(i, { distance_mm: v }) })}
          from its
          ${choiceBlank({ id: `edge-notch-${i}-from`, label: `Notch ${i + 1}: measured from`, value: n.from, options: [["start", "start"], ["end", "end"]], onChange: (v) => set(i, { from: v }) })}
          <button class="plain" @click=${() => edit((s) => withNotches(s, p.name, notches.filter((_, j) => j !== i)), "The notch is taken out.")}>take it out</button>
        </li>`)}
      </ul>
      <p><button class="button slight" ?disabled=${busy} @click=${() => {
        const edge = p.edges[picked]?.kind === "fold" ? p.edges.find((e) => e.kind !== "fold") : p.edges[picked];
        if (edge) edit((s) => withNotches(s, p.name, [...notches, { edge: edge.name, distance_mm: Math.round(edge.length_mm / 2), from: "start", marks: 1, name: "" }]), `A notch on ${edge.name}, half way along.`);
      }}>Add a notch on ${p.edges[picked]?.kind === "fold" ? "an edge" : p.edges[picked]?.name ?? "an edge"}</button></p>
    </section>`;
  }

  /** @param {PieceView} p */
  function marksView(p) {
    const parts = [
      p.darts.length ? `${p.darts.length} ${p.darts.length === 1 ? "dart" : "darts"} (${p.darts.map((d) => d.name).join(", ")})` : "",
      p.marks.length ? `${p.marks.length} inner ${p.marks.length === 1 ? "mark" : "marks"}` : "",
    ].filter(Boolean);
    return parts.length ? html`<p class="soft">${parts.join(", ")}.</p>` : nothing;
  }
}
