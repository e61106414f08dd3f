// The walk along the table: which stop comes next, and which key asks for it. Pure.

/** @typedef {import("./scene.js").Projection} Projection */

/**
 * One stop of the cutting: a piece, or a thing to do with the cloth between two windows.
 * @typedef {{kind: "piece", window: number, key: string}
 *   | {kind: "chalk", window: number}
 *   | {kind: "along", window: number}
 *   | {kind: "across", window: number}
 *   | {kind: "spread", window: number}
 *   | {kind: "end", window: number}} Stop
 */

/**
 * `guides`: cloth outline and grain, nothing to cut. `look`: the whole layout, dashed, until it is
 * approved. `whole`: all of a window to cut. `piece`: one piece bright, the rest dim.
 * @typedef {"guides" | "look" | "whole" | "piece"} View
 */

/**
 * @typedef {object} Walk
 * @property {View} view
 * @property {number} window
 * @property {number} stop  index into the stops; counts in the view `piece` only
 * @property {boolean} approved
 * @property {number[]} seen  windows looked at
 */

/** @typedef {"next" | "back" | "first" | "last" | "pieces" | "approve" | "guides"} Command */

/** @type {Walk} */
export const START = { view: "guides", window: 0, stop: 0, approved: false, seen: [0] };

/**
 * All stops in order. Windows with nothing left to cut still have the cloth drawn through them.
 * @param {Projection} projection
 * @returns {Stop[]}
 */
export function stops(projection) {
  /** @type {Stop[]} */
  const out = [];
  const { windows } = projection;
  windows.forEach((window, i) => {
    if (i > 0) {
      const opened = windows[i - 1].spread !== window.spread;
      out.push({ kind: opened ? "across" : "chalk", window: i - 1 });
      out.push({ kind: opened ? "spread" : "along", window: i });
    }
    for (const key of window.first) out.push({ kind: "piece", window: i, key });
  });
  out.push({ kind: "end", window: windows.length - 1 });
  return out;
}

/**
 * The walk after a command. Commands that mean nothing here leave it as it is (the same value, so
 * that nothing is drawn again).
 * @param {Walk} walk
 * @param {Command} command
 * @param {Projection} projection
 * @returns {Walk}
 */
export function step(walk, command, projection) {
  switch (command) {
    case "next": return forth(walk, 1, projection);
    case "back": return forth(walk, -1, projection);
    case "first": return walk.view === "piece" ? toStop(walk, 0, projection) : toWindow(walk, 0, projection);
    case "last": return walk.view === "piece" ? toStop(walk, stops(projection).length - 1, projection) : toWindow(walk, projection.windows.length - 1, projection);
    case "pieces": return pieces(walk, projection);
    case "approve": return approve(walk, projection);
    case "guides": return walk.view === "guides" ? { ...walk, view: walk.approved ? "whole" : "look" } : { ...walk, view: "guides" };
  }
}

/** Has every window been looked at? @param {Walk} walk @param {Projection} projection */
export function walkedThrough(walk, projection) {
  return projection.windows.every((w) => walk.seen.includes(w.index));
}

/**
 * The present stop, when pieces are shown one by one.
 * @param {Walk} walk
 * @param {Projection} projection
 * @returns {Stop | null}
 */
export function currentStop(walk, projection) {
  return walk.view === "piece" ? (stops(projection)[walk.stop] ?? null) : null;
}

/**
 * The command that a key asks for. Pedals and clickers send Page Down and Page Up, arrows, space or
 * Enter; all of them work wherever they can mean one thing only.
 * @param {{key: string, shiftKey?: boolean}} event
 * @param {View} view
 * @returns {Command | null}
 */
export function commandOf({ key, shiftKey = false }, view) {
  switch (key) {
    case "ArrowRight": case "ArrowDown": case "PageDown": return "next";
    case "ArrowLeft": case "ArrowUp": case "PageUp": case "Backspace": return "back";
    case " ": return shiftKey ? "back" : "next";
    case "Enter": return view === "piece" ? "next" : view === "whole" ? "pieces" : "approve";
    case "Home": return "first";
    case "End": return "last";
    case "p": case "P": return "pieces";
    case "g": case "G": return "guides";
    default: return null;
  }
}

/** @param {Walk} walk @param {number} way @param {Projection} projection @returns {Walk} */
function forth(walk, way, projection) {
  if (walk.view === "piece") return toStop(walk, walk.stop + way, projection);
  return toWindow(walk, walk.window + way, projection);
}

/** @param {Walk} walk @param {number} window @param {Projection} projection @returns {Walk} */
function toWindow(walk, window, projection) {
  if (window < 0 || window >= projection.windows.length || window === walk.window) return walk;
  const looked = walk.view === "look" && !walk.seen.includes(window);
  return { ...walk, window, seen: looked ? [...walk.seen, window] : walk.seen };
}

/** @param {Walk} walk @param {number} stop @param {Projection} projection @returns {Walk} */
function toStop(walk, stop, projection) {
  const all = stops(projection);
  if (stop < 0 || stop >= all.length || stop === walk.stop) return walk;
  return { ...walk, stop, window: all[stop].window };
}

/** Between all of a window and one piece at a time, keeping the place. @param {Walk} walk @param {Projection} projection @returns {Walk} */
function pieces(walk, projection) {
  if (!walk.approved) return walk;
  if (walk.view === "piece") return { ...walk, view: "whole" };
  const all = stops(projection);
  const here = all[walk.stop]?.window === walk.window ? walk.stop : all.findIndex((s) => s.window >= walk.window && s.kind === "piece");
  const stop = here < 0 ? all.length - 1 : here;
  return { ...walk, view: "piece", stop, window: all[stop].window };
}

/** Guides, then a look at every window, then cutting. @param {Walk} walk @param {Projection} projection @returns {Walk} */
function approve(walk, projection) {
  if (walk.view === "guides") return { ...walk, view: walk.approved ? "whole" : "look", seen: walk.seen.includes(walk.window) ? walk.seen : [...walk.seen, walk.window] };
  if (walk.view !== "look") return walk;
  if (!walkedThrough(walk, projection)) return walk;
  // Cutting starts at the beginning of the cloth, whichever window was looked at last.
  return { ...walk, view: "whole", approved: true, window: 0, stop: 0 };
}
