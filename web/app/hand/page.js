// The page in the hand: steps pieces and windows, marks what is cut, asks for a bolder line. It lights
// nothing itself; the table follows.

import { call } from "../api.js";
import { LIGHTS } from "../table/contrast.js";
import { ledgerPanel } from "../table/ledger.js";
import { element, makePanel, wrong } from "../table/panel.js";
import { WIDTHS_MM, FIRST } from "../table/prefs.js";
import { followCutting, getCutting } from "../table/session.js";
import { START, commandOf, currentStop, step, stops, walkedThrough } from "../table/steps.js";
import { countText, stripLines } from "../table/wording.js";
import { enter, newestCutting } from "./enter.js";
import { drawWindow } from "./sketch.js";

/** @typedef {import("../table/scene.js").Projection & {style: string, layout: string}} Projection */
/** @typedef {import("../table/session.js").Cutting} Cutting */

const query = new URLSearchParams(location.search);
let lay = query.get("lay") ?? "";
let cloth = query.get("cloth") ?? "shell";
const place = /** @type {HTMLElement} */ (document.getElementById("hand"));
const panel = makePanel(/** @type {HTMLElement} */ (document.getElementById("panel")));

/** @type {Projection | null} */
let projection = null;
/** @type {ReturnType<typeof followCutting> | null} */
let session = null;
let walk = START;
/** @type {{message: string, hint?: string} | null} */
let refusal = null;
/** The service does not answer. */
let lost = false;
/** Let in from the network: it may walk and mark, not approve. */
let guest = false;
/** All that the page shows now depends on. */
let last = "";

addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.key === "Escape" && panel.name) panel.close();
  const typing = event.target instanceof HTMLElement && event.target.closest("button, a, input, select");
  if (panel.name || (typing && [" ", "Enter"].includes(event.key))) return;
  const command = commandOf(event, walk.view);
  if (!command) return;
  event.preventDefault();
  go(command);
});
void begin();

async function begin() {
  try {
    await enter();
    guest = (await call("GET", "/devices/me")).role === "hand";
    if (!lay) ({ lay, cloth } = await newestCutting());
    projection = await call("GET", `/lays/${encodeURIComponent(lay)}/projection?cloth=${encodeURIComponent(cloth)}`);
    const cutting = await getCutting(lay, cloth);
    session = followCutting(lay, cloth, cutting, { changed: stand, refusedMove: refuse, refusedMark, lost: away });
    stand(cutting);
  } catch (error) {
    const why = /** @type {import("../api.js").ApiError} */ (error);
    if (why.code === "not_let_in" || why.code === "invite") return shut(why);
    place.replaceChildren(element("h1", {}, "Nothing to step"), wrong(why), element("p", {}, element("a", { href: "/table" }, "Choose a layout")));
  }
}

/** @param {Cutting} cutting */
function stand(cutting) {
  if (!projection) return;
  if (cutting.layout !== projection.layout) return void location.reload();
  walk = cutting.walk.window < projection.windows.length && cutting.walk.stop < stops(projection).length ? cutting.walk : START;
  show();
  if (panel.name === "ledger") openLedger();
}

/** Not let in, or not any more: nothing can be stepped until a new code is scanned. @param {{message: string, hint?: string}} why */
function shut(why) {
  session = null;
  panel.close();
  place.replaceChildren(element("h1", {}, "Not let in"), wrong(why));
}

/** @param {boolean} gone */
function away(gone) {
  lost = gone;
  show();
}

/** @param {{code?: string, message: string, hint?: string}} why */
function refuse(why) {
  if (why.code === "not_let_in") return shut(why);
  refusal = why;
  show();
}

/** Said where the mark was asked for: in the ledger, while that is open. @param {{code?: string, message: string, hint?: string}} why */
function refusedMark(why) {
  if (panel.name === "ledger" && why.code !== "not_let_in") refusal = why;
  else refuse(why);
}

/** @param {import("../table/steps.js").Command} command */
function go(command) {
  if (!projection || !session) return;
  const next = step(walk, command, projection);
  if (next === walk) return;
  walk = next;
  refusal = null;
  show();
  void session.move(next);
}

function show() {
  if (!projection || !session) return;
  const shown = projection;
  const now = session.now;
  // A button drawn anew under a thumb loses the tap: leave what stands unless it changed.
  const key = JSON.stringify([walk, now.cut, now.gaps_text, refusal, lost]);
  if (key === last) return;
  last = key;
  const stop = currentStop(walk, shown);
  const piece = stop?.kind === "piece" ? shown.pieces.find((p) => p.key === stop.key) : undefined;
  const [first, second] = stripLines(shown, walk, now.gaps_text, now.cut).map(withoutKeys);
  const held = document.activeElement?.id ?? "";
  place.replaceChildren(
    element("p", { class: "soft" }, `${shown.style}, ${cloth}. Window ${walk.window + 1} of ${shown.windows.length}`),
    element("h1", {}, piece ? piece.label : first),
    element("p", { role: "status" }, piece ? `${piece.hand_text}, ${piece.plies === 1 ? "one ply" : `${piece.plies} plies`}. ${countText(shown, piece.key)}. ${now.cut.includes(piece.key) ? "Cut already." : ""}` : second),
    drawWindow(shown, walk.window, piece?.key ?? "", now.cut),
    ...(refusal ? [wrong(refusal)] : []),
    ...(lost ? [element("p", { class: "wrong" }, "The service is away. Go on: what you step is sent when it is back.")] : []),
    ...(guest && walk.view === "look" && walkedThrough(walk, shown) ? [element("p", { class: "wrong" }, "All looked at. It is approved at the table, where the cloth can be seen: Enter there.")] : []),
    element("div", { class: "thumb" },
      ...(piece ? [button("cut", "Cut, and next", () => void cut(piece.key), now.cut.includes(piece.key))] : walk.view === "piece" || (guest && walk.view === "look") ? [] : [button("on", onWords(), () => go(walk.view === "whole" ? "pieces" : "approve"))]),
      button("back", "Back", () => go("back")),
      button("next", "Next", () => go("next"), false, "main")),
    element("div", { class: "actions" },
      button("thinner", "Thinner line", () => void widen(-1)),
      button("bolder", "Bolder line", () => void widen(1)),
      button("light", "Other light", () => void otherLight()),
      button("turn", "Turn the words", () => void session?.send("look", { turned: !now.look.turned })),
      button("ledger", "What is cut", openLedger),
      ...(walk.view === "piece" ? [button("whole", "All of the window", () => go("pieces"))] : []),
      button("guides", walk.view === "guides" ? "Pieces again" : "Grain guides", () => go("guides"))));
  document.getElementById(held)?.focus();
}

/** The table's keys mean nothing here: sentences that name one are left out. @param {string} said */
function withoutKeys(said) {
  return said.split(/(?<=[.?]) /).filter((sentence) => !/^(Enter|[A-Z]): /.test(sentence)).join(" ");
}

function onWords() {
  return { guides: "Look at the layout", look: "Light it to cut by", whole: "One piece at a time", piece: "" }[walk.view];
}

/** @param {string} key */
async function cut(key) {
  if (!session) return;
  refusal = null;
  if (await session.mark("cut", key)) go("next");
}

/** @param {number} way */
async function widen(way) {
  if (!session) return;
  const i = WIDTHS_MM.indexOf(session.now.look.width_mm ?? FIRST.width_mm) + way;
  if (i >= 0 && i < WIDTHS_MM.length) await session.send("look", { width_mm: WIDTHS_MM[i] });
}

async function otherLight() {
  if (!session) return;
  const i = LIGHTS.findIndex((l) => l.name === (session?.now.look.light ?? FIRST.light));
  await session.send("look", { light: LIGHTS[(i + 1) % LIGHTS.length].name });
}

function openLedger() {
  if (!session || !projection) return;
  const shown = projection;
  const pieces = shown.order.flatMap((key) => shown.pieces.filter((p) => p.key === key));
  const why = refusal;
  refusal = null;
  panel.show("ledger", ...ledgerPanel(session.now, pieces, (what, key, hand) => void session?.mark(what, key, hand).then(openLedger), why, panel.close));
}

/** @param {string} id @param {string} said @param {() => void} act @param {boolean} [off] @param {string} [kind] */
function button(id, said, act, off = false, kind = "") {
  return element("button", { id: `hand-${id}`, class: kind, disabled: off, click: act }, said);
}
