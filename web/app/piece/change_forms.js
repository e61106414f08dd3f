/**
 * The sentence of each change, with its blanks.
 */

/** @import {Context} from "../context.js" */
/** @import {Aside, End, Kind, Wish} from "./wishes.js" */
/** @import {Place} from "./places.js" */
/** @import {PieceView} from "../wire.js" */
import { html, nothing } from "../../vendor/lit-html/lit-html.js";
import { choiceBlank, countBlank, lengthBlank, optionalLengthBlank, percentBlank, signedLengthBlank, textBlank } from "../blanks.js";
import { countedFrom, edgeOf } from "./places.js";
import { endPoint, heightOn, withOneMore } from "./wishes.js";

/** @typedef {{context: Context, set: (change: Partial<Wish>) => void, roles: string[]}} Tools */

/** Prefix of the blanks that take a dart instead of an edge. */
const DART = "dart: ";

/** Points that a cut may have on its way: more are drawn in a drawing. */
const MOST_THROUGH = 20;

/** @param {Kind} kind @param {Wish} wish @param {PieceView} p @param {Tools} tools */
export function changeSentence(kind, wish, p, tools) {
  switch (kind) {
    case "split": return splitSentence(wish, p, tools);
    case "move dart": return moveDartSentence(wish, p, tools);
    case "shorten dart": return html`The point of ${dartBlank(wish, p, tools)} is drawn back by ${lengthOf("by", "How far the point is drawn back", wish.by, (by) => ({ by }), tools)}.`;
    case "true dart": return html`Both legs of ${dartBlank(wish, p, tools)} are made as long as their mean.`;
    case "stand": return html`The stand is ${lengthOf("width", "Width of the stand", wish.width, (width) => ({ width }), tools)} wide, along ${edgeBlank("edge", "Edge that the stand is added to", wish.edge, p, (edge) => ({ edge }), tools)}; the edges that meet it are carried on as their mirror images.`;
    case "buttons": return buttonsSentence(wish, tools);
    case "facing": return html`It is ${lengthOf("depth", "Depth of the facing", wish.depth, (depth) => ({ depth }), tools)} deep, along ${edgeBlank("edge", "First edge of the facing", wish.edge, p, (edge) => ({ edge, upto: edge }), tools)}
      ${choiceBlank({ id: "change-upto", label: "Last edge of the facing", value: wish.upto, options: p.edges.map((e) => [e.name, e.name === wish.edge ? "alone" : `and on to ${e.name}`]), onChange: (upto) => tools.set({ upto }) })}, ${newPiece(wish, tools)}.`;
    case "hem facing": return html`It is ${lengthOf("depth", "Depth of the hem facing", wish.depth, (depth) => ({ depth }), tools)} deep, along ${edgeBlank("edge", "Hem that is faced", wish.edge, p, (edge) => ({ edge }), tools)}, joined with ${lengthOf("join", "Seam allowance where the facing is joined", wish.join, (join) => ({ join }), tools)} of allowance, ${newPiece(wish, tools)}.`;
    case "lengthen": return lengthenSentence(wish, p, tools);
    case "unfold": return html`The half is drawn as the whole piece that it stands for.`;
    case "mirror": return html`Drawn as its mirror image; hands as drawn and turned over change places.`;
  }
}

/** @param {Wish} wish @param {PieceView} p @param {Tools} tools */
function splitSentence(wish, p, tools) {
  const { context, set } = tools;
  const { system, troubles } = context;
  return html`It is cut from ${endBlanks("start", wish.start, p, tools)} to ${endBlanks("end", wish.end, p, tools)},
    ${choiceBlank({ id: "change-way", label: "How the cut runs", value: wish.way, options: [["straight", "straight"], ["curve", "in a smooth curve"], ["corners", "straight from point to point"]], onChange: (way) => set({ way, through: way === "straight" || wish.through.length ? wish.through : withOneMore([], wholeCut(wish, p)) }) })}${wish.way === "straight" ? nothing : throughBlanks(wish, p, tools)}.
    The part on its right is called ${textBlank({ id: "change-first", label: "Name of the part on the right of the cut", text: wish.first, placeholder: "as we name it", troubles, onChange: (first) => set({ first }) })},
    that on its left ${textBlank({ id: "change-second", label: "Name of the part on the left of the cut", text: wish.second, placeholder: "as we name it", troubles, onChange: (second) => set({ second }) })};
    the new seam ${textBlank({ id: "change-seam", label: "Name of the new seam", text: wish.seam, placeholder: "panel seam", troubles, onChange: (seam) => set({ seam }) })}
    gets ${optionalLengthBlank({ id: "change-allowance", label: "Allowance of the new seam", mm: wish.allowance, system, troubles, none: "the piece's own", onChange: (allowance) => set({ allowance }) })} allowance on both.`;
}

/** Length of the straight line from end to end. @param {Wish} wish @param {PieceView} p */
function wholeCut(wish, p) {
  const [a, b] = [endPoint(wish.start, p), endPoint(wish.end, p)];
  return a && b ? Math.hypot(b[0] - a[0], b[1] - a[1]) : 0;
}

/** The places on a cut's way, each with its two measures. @param {Wish} wish @param {PieceView} p @param {Tools} tools */
function throughBlanks(wish, p, { context: { system, troubles }, set }) {
  /** @param {number} i @param {Partial<Aside>} change */
  const change = (i, change) => set({ through: wish.through.map((place, k) => (k === i ? { ...place, ...change } : place)) });
  /** @param {number} i */
  const without = (i) => {
    // What stood wrong in the blanks of this point and of those that change their number goes too.
    troubles.forget("change-through-");
    set({ through: wish.through.filter((_, k) => k !== i) });
  };
  return html` through${wish.through.map(
    ({ along, left }, i) => html`${i ? ", then" : ""} <span class="through-point">point ${i + 1}:
      ${signedLengthBlank({ id: `change-through-${i}-along`, label: `Point ${i + 1} of the cut, along the straight line from its beginning`, mm: along, system, troubles, onChange: (v) => change(i, { along: v }) })} along the straight line,
      ${lengthBlank({ id: `change-through-${i}-aside`, label: `Point ${i + 1} of the cut, square to the straight line`, mm: Math.abs(left), system, troubles, onChange: (v) => change(i, { left: left < 0 ? -v : v }) })}
      to its ${choiceBlank({ id: `change-through-${i}-side`, label: `Side of the straight line on which point ${i + 1} lies`, value: left < 0 ? "right" : "left", options: [["left", "left"], ["right", "right"]], onChange: (side) => change(i, { left: side === "left" ? Math.abs(left) : -Math.abs(left) }) })}
      <button class="plain" type="button" aria-label=${`Leave out point ${i + 1} of the cut`} @click=${() => without(i)}>leave it out</button></span>`,
  )} <button class="button slight" type="button" ?disabled=${wish.through.length >= MOST_THROUGH} @click=${() => set({ through: withOneMore(wish.through, wholeCut(wish, p)) })}>One more point</button>`;
}

/** @param {"start" | "end"} which @param {End} end @param {PieceView} p @param {Tools} tools */
function endBlanks(which, end, p, { context, set }) {
  const words = which === "start" ? "where the cut begins" : "where the cut ends";
  /** @param {Partial<End>} change */
  const change = (change) => set(which === "start" ? { start: { ...end, ...change } } : { end: { ...end, ...change } });
  /** @type {[string, string][]} */
  const options = [
    ...p.edges.map((e) => /** @type {[string, string]} */ ([e.name, e.name])),
    ...p.darts.map((d) => /** @type {[string, string]} */ ([DART + d.name, `the point of ${d.name}`])),
  ];
  return html`${choiceBlank({
    id: `change-${which}-edge`,
    label: `Edge ${words}`,
    value: end.dart ? DART + end.dart : end.place.edge,
    options,
    onChange: (v) => {
      if (v.startsWith(DART)) change({ dart: v.slice(DART.length) });
      else change({ dart: "", place: { edge: v, mm: Math.round((edgeOf(p, v)?.length_mm ?? 0) / 2), from: "start" } });
    },
  })}${end.dart ? nothing : html`, ${placeBlanks(`change-${which}`, words, end.place, p, context, (place) => change({ place }))}`}`;
}

/** A distance along an edge from one of its ends. @param {string} id @param {string} words @param {Place} place @param {PieceView} p @param {Context} context @param {(place: Place) => void} set */
const placeBlanks = (id, words, place, p, { system, troubles }, set) =>
  html`${lengthBlank({ id: `${id}-mm`, label: `Distance along the edge, ${words}`, mm: place.mm, system, troubles, onChange: (mm) => set({ ...place, mm }) })}
    from its ${choiceBlank({
      id: `${id}-from`,
      label: `End of the edge that it is measured from, ${words}`,
      value: place.from,
      options: [["start", "start"], ["end", "end"]],
      onChange: (from) => {
        const edge = edgeOf(p, place.edge);
        set({ ...place, from, mm: edge ? countedFrom(edge, "end", place.mm) : place.mm });
      },
    })}`;

/** @param {Wish} wish @param {PieceView} p @param {Tools} tools */
function moveDartSentence(wish, p, tools) {
  const { context, set } = tools;
  return html`Of ${dartBlank(wish, p, tools)}
    ${percentBlank({ id: "change-share", label: "How much of the dart is moved", share: wish.share, whole: true, troubles: context.troubles, onChange: (share) => set({ share }) })}
    of its angle is closed and opened again on
    ${edgeBlank("place-edge", "Edge that the dart opens on", wish.place.edge, p, (edge) => ({ place: { edge, mm: Math.round((edgeOf(p, edge)?.length_mm ?? 0) / 2), from: "start" } }), tools)},
    ${placeBlanks("change-place", "where the dart opens", wish.place, p, context, (place) => set({ place }))}.`;
}

/** @param {Wish} wish @param {Tools} tools */
function buttonsSentence(wish, tools) {
  const { context, set } = tools;
  return html`${countBlank({ id: "change-buttons", label: "How many buttons", value: wish.buttons, least: 1, most: 99, troubles: context.troubles, onChange: (buttons) => set({ buttons }) })} buttons of
    ${lengthOf("diameter", "Diameter of the buttons", wish.diameter, (diameter) => ({ diameter }), tools)} on the centre line, the first
    ${lengthOf("first-button", "First button, from the upper end of the centre line", wish.firstButton, (firstButton) => ({ firstButton }), tools)} from its upper end, the last
    ${lengthOf("last-button", "Last button, from the lower end of the centre line", wish.lastButton, (lastButton) => ({ lastButton }), tools)} from its lower end,
    ${choiceBlank({ id: "change-holes", label: "Whether buttonholes are marked", value: wish.holes ? "yes" : "no", options: [["yes", "with buttonholes"], ["no", "without buttonholes"]], onChange: (v) => set({ holes: v === "yes" }) })}.`;
}

/** @param {Wish} wish @param {PieceView} p @param {Tools} tools */
function lengthenSentence(wish, p, tools) {
  const { context, set } = tools;
  const whole = heightOn(p).whole;
  return html`Across the grain, ${lengthOf("level", "Height of the line above the lowest point", wish.level, (level) => ({ level }), tools)} above its lowest point
    (it is ${context.len(whole)} tall), it is made longer by
    ${signedLengthBlank({ id: "change-by", label: "How much longer; with a minus, shorter", mm: wish.by, system: context.system, troubles: context.troubles, onChange: (by) => set({ by }) })};
    ${choiceBlank({ id: "change-moves", label: "Which part moves", value: wish.moves, options: [["upper", "what lies above"], ["lower", "what lies below"]], onChange: (moves) => set({ moves }) })} moves.`;
}

/** Name and cloth of a piece that is added. @param {Wish} wish @param {Tools} tools */
const newPiece = (wish, { context, set, roles }) =>
  html`called ${textBlank({ id: "change-name", label: "Name of the new piece", text: wish.name, placeholder: "as we name it", troubles: context.troubles, onChange: (name) => set({ name }) })},
    from ${choiceBlank({ id: "change-cloth", label: "Cloth of the new piece", value: wish.cloth, options: [["", "the same cloth"], ...[...new Set([...roles, "lining", "interfacing"])].map((r) => /** @type {[string, string]} */ ([r, r]))], onChange: (cloth) => set({ cloth }) })}`;

/** @param {Wish} wish @param {PieceView} p @param {Tools} tools */
const dartBlank = (wish, p, { set }) =>
  choiceBlank({ id: "change-dart", label: "Dart", value: wish.dart, options: p.darts.map((d) => [d.name, d.name]), onChange: (dart) => set({ dart }) });

/** @param {string} id @param {string} label @param {string} value @param {PieceView} p @param {(edge: string) => Partial<Wish>} change @param {Tools} tools */
const edgeBlank = (id, label, value, p, change, { set }) =>
  choiceBlank({ id: `change-${id}`, label, value, options: p.edges.map((e) => [e.name, e.name]), onChange: (v) => set(change(v)) });

/** @param {string} id @param {string} label @param {number} mm @param {(mm: number) => Partial<Wish>} change @param {Tools} tools */
const lengthOf = (id, label, mm, change, { context, set }) =>
  lengthBlank({ id: `change-${id}`, label, mm, system: context.system, troubles: context.troubles, onChange: (v) => set(change(v)) });
