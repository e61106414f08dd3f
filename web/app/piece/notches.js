/**
 * Notches: as a list of sentences, and on the drawing as handles that the pointer drags and the arrow
 * keys move in small steps.
 */

/** @import {Hub} from "./hub.js" */
/** @import {PieceView, XY} from "../wire.js" */
/** @import {NotchSaid} from "../sheet.js" */
/** @import {Handle} from "../draw/handles.js" */
import { html, nothing } from "../../vendor/lit-html/lit-html.js";
import { choiceBlank, lengthBlank, textBlank } from "../blanks.js";
import { nearestAlong, pointAlong } from "../geometry.js";
import { notchesOf, withNotches } from "../sheet.js";
import { stepWords, toStep } from "../units.js";
import { countedFrom, edgeOf, fromStart, nearestPlace } from "./places.js";

/** @param {Hub} hub */
export function notchPart(hub) {
  const { context } = hub;
  /** Whether the next click on the drawing sets a notch. */
  let placing = false;
  /** A notch under the hand: not sent yet. @type {{index: number, mm: number} | null} */
  let moving = null;
  /** What of it is on its way: a key let go and the focus lost are one move. @type {{index: number, mm: number} | null} */
  let sent = null;

  const listed = () => notchesOf(hub.style().sheet, hub.piece().name);

  /** @param {NotchSaid[]} notches @param {string} said */
  const keep = (notches, said) => hub.edit((s) => withNotches(s, hub.piece().name, notches), said);

  /** @param {number} index @param {Partial<NotchSaid>} change @param {string} [said] */
  const set = (index, change, said = "The notch is moved.") =>
    keep(listed().map((n, i) => (i === index ? { ...n, ...change } : n)), said);

  /** @param {NotchSaid} n */
  const placeOf = (n) => ({ edge: n.edge, mm: n.distance_mm, from: n.from });

  async function letGo() {
    const held = moving;
    const notch = held && listed()[held.index];
    const edge = notch && edgeOf(hub.piece(), notch.edge);
    if (!held || held === sent || !notch || !edge) return;
    sent = held;
    const counted = countedFrom(edge, notch.from, held.mm);
    if (Math.abs(counted - notch.distance_mm) > 1e-9) {
      await set(held.index, { distance_mm: counted }, `Notch ${held.index + 1}: ${context.len(counted)} from the ${notch.from} of ${notch.edge}.`);
    }
    // A key pressed meanwhile holds it again.
    if (moving === held) moving = null;
    context.paint();
  }

  return {
    /** @returns {boolean} */
    get placing() {
      return placing;
    },

    stop() {
      placing = false;
      moving = null;
    },

    /** A click on the drawing while a notch is being placed. @param {XY} p */
    place(p) {
      const piece = hub.piece();
      const found = nearestPlace(piece, p, context.system, (e) => e.kind !== "fold");
      if (!found) return;
      placing = false;
      const notches = listed();
      keep([...notches, { edge: found.edge, distance_mm: found.mm, from: found.from, marks: 1, name: "" }], `A notch on ${found.edge}, ${context.len(found.mm)} from its ${found.from}.`).then(() =>
        requestAnimationFrame(() => document.getElementById(`notch-handle-${notches.length}`)?.focus()),
      );
    },

    /** @param {PieceView} p @returns {Handle[]} */
    handles(p) {
      return listed().flatMap((n, i) => {
        const edge = edgeOf(p, n.edge);
        if (!edge) return [];
        const held = () => (moving?.index === i ? moving.mm : fromStart(edge, placeOf(listed()[i] ?? n)));
        const mm = held();
        return [{
          id: `notch-handle-${i}`,
          label: `Notch ${i + 1} on ${n.edge}`,
          at: pointAlong(edge.points, mm),
          value: mm,
          least: 0,
          most: edge.length_mm,
          text: `${context.len(countedFrom(edge, n.from, mm))} from the ${n.from} of ${n.edge}`,
          read: (point) => nearestAlong(point, edge.points).mm,
          now: held,
          zero: n.from === "end" ? edge.length_mm : 0,
          move: (value) => {
            moving = { index: i, mm: value };
            context.paint();
          },
          done: letGo,
        }];
      });
    },

    /** @param {PieceView} p */
    view(p) {
      const { system, troubles } = context;
      const notches = listed();
      const edges = p.edges.filter((e) => e.kind !== "fold").map((e) => /** @type {[string, string]} */ ([e.name, e.name]));
      const home = p.edges[hub.picked()]?.kind === "fold" ? p.edges.find((e) => e.kind !== "fold") : p.edges[hub.picked()];
      return html`<section>
        <h2>Notches</h2>
        <ul class="notch-list">
          ${notches.map((n, i) => {
            const edge = edgeOf(p, n.edge);
            const mm = edge && moving?.index === i ? countedFrom(edge, n.from, moving.mm) : n.distance_mm;
            return html`<li>
            A ${choiceBlank({ id: `edge-notch-${i}-marks`, label: `Notch ${i + 1}: single or double`, value: String(n.marks), options: [["1", "single"], ["2", "double"], ["3", "triple"]], onChange: (v) => set(i, { marks: Number(v) }, "The notch is changed.") })} one on
            ${choiceBlank({ id: `edge-notch-${i}-edge`, label: `Notch ${i + 1}: edge`, value: n.edge, options: edges, onChange: (v) => set(i, { edge: v, distance_mm: Math.min(n.distance_mm, edgeOf(p, v)?.length_mm ?? 0) }) })},
            ${lengthBlank({ id: `edge-notch-${i}-distance`, label: `Notch ${i + 1}: distance along the edge`, mm, system, troubles, onChange: (v) => set(i, { distance_mm: v }) })}
            from its
            ${choiceBlank({ id: `edge-notch-${i}-from`, label: `Notch ${i + 1}: measured from`, value: n.from, options: [["start", "start"], ["end", "end"]], onChange: (v) => set(i, { from: v, distance_mm: edge ? edge.length_mm - n.distance_mm : n.distance_mm }, "The notch is measured from the other end.") })},
            named ${textBlank({ id: `edge-notch-${i}-name`, label: `Notch ${i + 1}: its name`, text: n.name, placeholder: "nothing", troubles, onChange: (v) => set(i, { name: v }, "The notch is named.") })}
            <button class="plain" @click=${() => keep(notches.filter((_, j) => j !== i), "The notch is taken out.")}>take it out</button>
          </li>`;
          })}
        </ul>
        <p class="row"><button class="button slight" ?disabled=${hub.busy() || !home} @click=${() => home && keep([...notches, { edge: home.name, distance_mm: toStep(home.length_mm / 2, system), from: "start", marks: 1, name: "" }], `A notch on ${home.name}, half way along.`)}>Add a notch on ${home?.name ?? "an edge"}</button>
          <button class="button slight" aria-pressed=${String(placing)} @click=${() => {
            placing = !placing;
            context.announce(placing ? "Click on an edge in the drawing to set a notch there." : "");
            context.paint();
          }}>Place one by eye</button></p>
        ${placing ? html`<p class="small">Click on an edge in the drawing.</p>` : notches.length ? html`<p class="small soft">On the drawing a notch can be dragged along its edge, or moved by the arrow keys: ${stepWords(system)}.</p>` : nothing}
      </section>`;
    },
  };
}
