/**
 * The edges of a piece as a list, and the picked one as a sentence: what it is sewn to, how it is
 * pressed, how the cut line turns at its ends.
 */

/** @import {Hub} from "./hub.js" */
/** @import {AllowanceState, EdgeKind, EdgeView, PieceView} from "../wire.js" */
import { html, nothing } from "../../vendor/lit-html/lit-html.js";
import { choiceBlank, lengthBlank, optionalLengthBlank } from "../blanks.js";
import { LEAP_MM, toStep } from "../units.js";
import { fractions } from "../context.js";
import { changeEdge } from "../sheet.js";

/** @type {readonly [EdgeKind, string][]} */
const KINDS = [["seam", "seam"], ["hem", "hem"], ["fold", "fold"], ["finished", "finished edge"]];

/** @type {readonly [AllowanceState, string][]} */
const STATES = [["add", "add"], ["included", "included in the drawn line"], ["none", "none"]];

/** @type {Readonly<Record<string, string>>} */
const CORNERS = Object.freeze({
  mitre: "runs to a point",
  step: "is stepped",
  blunt: "is cut off square",
  "this edge turns back": "is shaped so that this edge turns back",
  "next edge turns back": "is shaped so that the next edge turns back",
});

/** @type {Readonly<Record<string, string>>} */
const PRESSED = Object.freeze({
  unsaid: "in a way not said",
  open: "open",
  "towards this piece": "towards this piece",
  "away from this piece": "away from this piece",
});

/** How the treatment that was made is said. @type {Readonly<Record<string, string>>} */
const MADE = Object.freeze({
  mitre: "a point",
  step: "a step",
  "cut off": "cut off square",
  hollow: "into the hollow",
  "turned back": "turned back",
  straight: "straight on",
  fold: "square at the fold",
});

/** @param {Hub} hub @param {PieceView} p */
export function edgesView(hub, p) {
  return html`<div class="scroll-x"><table class="edges">
      <caption class="unseen">Edges of ${p.name}, in order round the piece</caption>
      <thead><tr><th scope="col">Edge</th><th scope="col">Kind</th><th scope="col">Allowance</th><th scope="col" class="num">Length</th></tr></thead>
      <tbody>${p.edges.map((edge, i) => edgeRow(hub, p, edge, i))}</tbody>
    </table></div>
    ${edgeDetail(hub, p)}
    <p class="small"><a href="/edges">How edges become cut lines</a>, with a drawing for each kind of corner and dart. <a href=${`/truing?style=${encodeURIComponent(hub.style().id)}`}>See all seams walked</a>: lengths, notches and joined edges compared</p>`;
}

/** The allowance as it stands, with something changed: what is not named stays. @param {EdgeView} edge @param {Partial<EdgeView["allowance"]>} change */
const allowanceWith = (edge, change) => ({ allowance: { ...edge.allowance, ...change } });

/** @param {Hub} hub @param {PieceView} p @param {EdgeView} edge @param {number} i */
function edgeRow(hub, p, edge, i) {
  const { context, edit } = hub;
  const { system, troubles } = context;
  const at = { name: edge.name, index: i };
  const state = edge.allowance.state;
  return html`<tr class=${i === hub.picked() ? "picked" : ""} @focusin=${() => hub.touch(i)}>
      <th scope="row"><button class="plain edge-pick" aria-pressed=${String(i === hub.picked())} @click=${() => hub.pick(i)}>${edge.name}</button></th>
      <td>${choiceBlank({ id: `edge-${i}-kind`, label: `Kind of edge ${edge.name}`, value: edge.kind, options: KINDS, onChange: (v) => edit((s) => changeEdge(s, p.name, at, v === "fold" ? { kind: v, allowance: { state: "none", width_mm: 0 } } : { kind: v }), `${edge.name} is a ${v}.`) })}</td>
      <td class="allowance">${edge.kind === "fold"
        ? html`<span class="soft">none on a fold</span>`
        : html`${choiceBlank({ id: `edge-${i}-state`, label: `Allowance on ${edge.name}`, value: state, options: STATES, onChange: (v) => edit((s) => changeEdge(s, p.name, at, v === "none" ? { allowance: { state: v, width_mm: 0 } } : allowanceWith(edge, { state: v, width_mm: edge.allowance.width_mm || 15 })), `${edge.name}: ${v}.`) })}
            ${state === "none"
              ? nothing
              : lengthBlank({ id: `edge-${i}-width`, label: `Width of the allowance on ${edge.name}`, mm: edge.allowance.width_mm, system, troubles, onChange: (v) => edit((s) => changeEdge(s, p.name, at, allowanceWith(edge, { state, width_mm: v })), `${edge.name}: ${context.len(v)}. The cut line is drawn anew.`) })}
            <span class="small">and ${lengthBlank({ id: `edge-${i}-inlay`, label: `Inlay on ${edge.name}, to let out later`, mm: edge.inlay_mm, system, troubles, none: "no", onChange: (v) => edit((s) => changeEdge(s, p.name, at, { inlay_mm: v }), `${edge.name}: inlay ${context.len(v)}.`) })} inlay</span>`}</td>
      <td class="num">${fractions(context.len(edge.length_mm))}</td>
    </tr>`;
}

/** Everything else that can be said of the picked edge. @param {Hub} hub @param {PieceView} p */
function edgeDetail(hub, p) {
  const i = hub.picked();
  const edge = p.edges[i];
  if (!edge) return nothing;
  const n = p.edges.length;
  const [before, after] = [p.edges[(i + n - 1) % n], p.edges[(i + 1) % n]];
  if (edge.kind === "fold") return html`<p class="small soft">The edge <b>${edge.name}</b> lies on the fold: it is never cut.</p>`;
  const { context, edit } = hub;
  const { system, troubles } = context;
  const at = { name: edge.name, index: i };
  return html`<section class="edge-detail" aria-label=${`The edge ${edge.name}`}>
    <p class="sentence piece-sentence">The edge <b>${edge.name}</b> is sewn to
      ${rowView(hub, p, edge, i)}${edge.partners.length
        ? html`, with ${lengthBlank({ id: "edge-ease", label: `Ease on ${edge.name}: how much longer than its partner it is meant to be`, mm: edge.ease_mm, system, troubles, none: "no", onChange: (v) => edit((s) => changeEdge(s, p.name, at, { ease_mm: v }), `${edge.name}: ease ${context.len(v)}.`) })} of ease to work in`
        : nothing}${edge.pressed_may.length > 1
        ? html`, and pressed ${choiceBlank({ id: "edge-pressed", label: `How the seam ${edge.name} is pressed`, value: edge.pressed, options: edge.pressed_may.map((v) => [v, PRESSED[v] ?? v]), onChange: (v) => edit((s) => changeEdge(s, p.name, at, { pressed: v }), `${edge.name} is pressed ${PRESSED[v] ?? v}. The ends of its allowance are shaped for it.`) })}`
        : nothing}.
      ${edge.allowance.state === "add" ? widthsView(hub, p, edge, i) : nothing}</p>
    ${cornerView(hub, p, edge, i, after, "end")}
    ${cornerView(hub, p, before, (i + n - 1) % n, edge, "start")}
  </section>`;
}

/** Widths that change along the edge, and further folds of a hem. @param {Hub} hub @param {PieceView} p @param {EdgeView} edge @param {number} i */
function widthsView(hub, p, edge, i) {
  const { context, edit } = hub;
  const { system, troubles } = context;
  const at = { name: edge.name, index: i };
  /** @param {[number, number][]} steps @param {string} text */
  const setSteps = (steps, text) => edit((s) => changeEdge(s, p.name, at, allowanceWith(edge, { steps, end_width_mm: null })), text);
  const steps = edge.allowance.steps;
  return html`${steps.length
      ? nothing
      : html`Its allowance ends
          ${optionalLengthBlank({ id: "edge-end-width", label: `Width of the allowance at the end of ${edge.name}, where it changes evenly`, mm: edge.allowance.end_width_mm, system, troubles, none: "as wide as it begins", onChange: (v) => edit((s) => changeEdge(s, p.name, at, allowanceWith(edge, { end_width_mm: v })), v === null ? `${edge.name}: one width all along.` : `${edge.name}: ${context.len(v)} at its end.`) })}`}${edge.allowance.end_width_mm === null
      ? html`${steps.length ? "Its allowance steps" : ", without a step"}${steps.map(([d, w], j) => html`${j ? ", and" : ""} at
            ${lengthBlank({ id: `edge-step-${j}-at`, label: `Step ${j + 1} on ${edge.name}: distance from its start`, mm: d, system, troubles, onChange: (v) => setSteps(steps.map((s, k) => (k === j ? [v, w] : s)), "The step is moved.") })}
            to ${lengthBlank({ id: `edge-step-${j}-width`, label: `Step ${j + 1} on ${edge.name}: width from there on`, mm: w, system, troubles, onChange: (v) => setSteps(steps.map((s, k) => (k === j ? [d, v] : s)), "The step is changed.") })}
            <button class="plain small" @click=${() => setSteps(steps.filter((_, k) => k !== j), "The step is taken out.")}>take it out</button>`)}
          <button class="plain small" @click=${() => setSteps([...steps, [toStep(edge.length_mm / 2, system), edge.allowance.width_mm + LEAP_MM[system]]], "A step half way along.")}>add a step</button>`
      : nothing}.
    ${edge.kind === "hem"
      ? html`The hem is turned again
          ${optionalLengthBlank({ id: "edge-fold", label: `Second fold of the hem ${edge.name}: distance from its first fold`, mm: edge.folds_mm[0] ?? null, system, troubles, none: "nowhere", onChange: (v) => edit((s) => changeEdge(s, p.name, at, { folds_mm: v === null ? [] : [v] }), v === null ? `${edge.name} is turned once.` : `${edge.name} is turned twice.`) })}
          from its fold.`
      : nothing}`;
}

/**
 * What the edge is sewn to: one edge, or a row of edges in the order in which they lie along it.
 * @param {Hub} hub @param {PieceView} p @param {EdgeView} edge @param {number} i
 */
function rowView(hub, p, edge, i) {
  const row = edge.partners;
  const at = { name: edge.name, index: i };
  /** @param {number} place @param {string} v */
  const set = (place, v) => {
    const next = [...row.slice(0, place), ...(v ? [v] : []), ...row.slice(place + 1)];
    const text = next.length ? `${edge.name} is sewn to ${next.join(", then to ")}.` : `${edge.name} is sewn to nothing that is named.`;
    hub.edit((s) => changeEdge(s, p.name, at, { partners: next }), text);
  };
  /** @param {number} place */
  const blank = (place) =>
    choiceBlank({
      id: place ? `edge-partner-${place}` : "edge-partner",
      label: place ? `Further on ${edge.name} is sewn to, place ${place + 1} from its start` : `What ${edge.name} is sewn to${row.length > 1 ? ", at its start" : ""}`,
      value: row[place] ?? "",
      options: partners(hub, p, edge, place),
      onChange: (v) => set(place, v),
    });
  return html`${blank(0)}${row.slice(1).map((_, k) => html`, then to ${blank(k + 1)}`)}${row.length ? html` and further on to ${blank(row.length)}` : nothing}${edge.run.length
    ? html` (as one with ${edge.run.filter((name) => name !== `${p.name}/${edge.name}`).join(" and ")};
        <button class="plain small" @click=${() => hub.edit((s) => changeEdge(s, p.name, at, { run: [] }), `${edge.name} is sewn on alone.`)}>sew it on alone</button>)`
    : nothing}`;
}

/** @param {Hub} hub @param {PieceView} p @param {EdgeView} edge @param {number} place in the row @returns {[string, string][]} */
function partners(hub, p, edge, place) {
  const [here, taken] = [edge.partners[place] ?? "", edge.partners.filter((_, k) => k !== place)];
  /** @type {[string, string][]} */
  const options = [["", place ? "nothing else" : "nothing that is named"]];
  for (const other of hub.style().pieces) {
    for (const e of other.edges) {
      const name = `${other.name}/${e.name}`;
      if (e.kind !== "fold" && !(other === p && e === edge) && !taken.includes(name)) options.push([name, `${other.name}, ${e.name}`]);
    }
  }
  // What the sheet says is shown, also where the style does not have it, or it is the edge itself.
  if (here && !options.some(([v]) => v === here)) options.push([here, here === `${p.name}/${edge.name}` ? "its own mirror image" : `${here} (not in this style)`]);
  return options;
}

/**
 * The corner between two edges; the choice lives on the first of them, at its end.
 * @param {Hub} hub @param {PieceView} p @param {EdgeView} edge the one that ends there @param {number} i @param {EdgeView} next @param {"start" | "end"} where of the picked edge
 */
function cornerView(hub, p, edge, i, next, where) {
  const { corner } = edge;
  if (!corner || edge.kind === "fold" || next.kind === "fold") return nothing;
  const other = where === "end" ? next.name : edge.name;
  const made = MADE[corner.made] ?? corner.made;
  /** @type {[string, string][]} */
  const options = corner.may.map((v) => [v, v === "auto" ? `is drawn as its kind asks: ${corner.said === "auto" ? made : "let us choose"}` : CORNERS[v] ?? v]);
  return html`<p>At its ${where}, where it meets <b>${other}</b>, the cut line
      ${choiceBlank({ id: `edge-corner-${where}`, label: `Corner at the ${where} of the edge, with ${other}`, value: corner.said, options, onChange: (v) => hub.edit((s) => changeEdge(s, p.name, { name: edge.name, index: i }, { corner: v }), `The corner of ${edge.name} and ${next.name} is drawn anew.`) })}.
      <span class="small soft" data-corner=${where}>${corner.text ? `${corner.text}; ` : ""}${Math.round(corner.angle_deg)}° inside.</span></p>`;
}
