// What all panels of the calibration page share: the light, the panel, whose turn it is, the map in use.

import { element, heading, makePanel, wrong } from "../table/panel.js";
import { settingChanges } from "../table/surface.js";
import { makeTurns } from "./turns.js";

/** @typedef {import("./lamp.js").Lamp} Lamp */
/** @typedef {import("../table/surface.js").ScreenSetting} ScreenSetting */
/** @typedef {{message: string, hint?: string}} Trouble */
/** @typedef {{line: string, label: string, nominal_mm: number, measured_mm: number, words: string, verdict: string, when: string}} CheckMade */
/** @typedef {{id: string, name: string, route: string, verdict: string, verdict_text: string, p95_mm: number | null, accuracy: import("./figures.js").Accuracy | null, created: string, last_checked: string | null, marks_made: string | null, canvas: [number, number], dpr: number, screen: string, projector_from_table: number[][], lens: import("../table/map.js").Lens | null, words: string[], checks: CheckMade[]}} MapDetail */
/** @typedef {{id: string, label: string, nominal_mm: number, from: [number, number], to: [number, number], needed: boolean}} CheckLine */

/**
 * @typedef {object} Ways  from any panel to another; each takes the turn
 * @property {(trouble?: Trouble | null) => void} start
 * @property {(kind: "corners" | "grid") => void} tape
 * @property {() => void} photographs
 * @property {(map: MapDetail) => void} check     light known lengths and take what they measure
 * @property {(map: MapDetail) => void} known     only what is known already of a map
 * @property {(map: MapDetail, lines: CheckLine[], todo: CheckLine[]) => void} lines    these lines now
 * @property {(map: MapDetail, lines: CheckLine[], trouble?: Trouble | null) => void} verdict
 * @property {(map: MapDetail) => void} boardAgain  the board laid down again, its outline lit
 * @property {(map: MapDetail) => void} quickLook   four marks
 * @property {(map: MapDetail, lines: CheckLine[]) => void} places   where it is good to cut by
 */

/**
 * @typedef {object} Rig
 * @property {"both" | "desk"} role
 * @property {ReturnType<typeof makePanel>} panel
 * @property {Lamp} lamp
 * @property {Ways} go
 * @property {MapDetail | null | undefined} inUse  as last heard; undefined: not asked yet
 * @property {(draw: () => void, left?: () => void) => () => boolean} open  begin a panel: `draw` is called
 *   again when the picture changes, `left` when another panel is begun; the answer says whether this
 *   one is still the one that the person is at
 * @property {() => () => boolean} turn  take the turn, while what is shown stays until an answer comes
 * @property {() => void} redraw
 * @property {(made: ScreenSetting) => boolean} holds  is the picture as it was then? else it is said
 * @property {(beside: boolean, room?: Room | (() => Room)) => boolean} place  false: there is no room beside what is lit
 * @property {() => void} fill
 */

/** @typedef {[number, number, number, number]} Room  x, y, w, h in canvas px */

/** Narrower or lower than so many css px a panel beside the light cannot be read or typed in. */
const LEAST_ROOM = [250, 190];

/**
 * @param {"both" | "desk"} role
 * @param {HTMLElement} box
 * @param {(changed: () => void) => Lamp} makeLamp
 * @param {(rig: Rig) => Ways} ways
 * @returns {Rig}
 */
export function makeRig(role, box, makeLamp, ways) {
  const turns = makeTurns();
  const panel = makePanel(box);
  /** @type {() => void} */
  let draw = () => undefined;
  /** @type {() => void} */
  let left = () => undefined;
  const redraw = () => draw();
  const lamp = makeLamp(redraw);

  /** @param {string[]} changes */
  function changed(changes) {
    place(false);
    lamp.show({ kind: "dark" });
    panel.show("changed", heading("The picture has changed"),
      wrong({ message: `Not calibrated for this picture: ${changes.join("; ")}.`, hint: "Go back to the picture it was begun with (F fills the screen), or start again." }),
      element("div", { class: "actions" },
        ...(role === "both" ? [element("button", { class: "main", click: fill }, "Fill the screen")] : []),
        element("button", { click: () => rig.go.start() }, "Start again")));
  }

  /** @type {Rig["place"]} */
  function place(beside, room) {
    const setting = lamp.setting();
    const style = box.style;
    const found = beside && role === "both" && setting && room ? (typeof room === "function" ? room() : room).map((v) => v / setting.dpr) : null;
    const fits = found !== null && found[2] >= LEAST_ROOM[0] && found[3] >= LEAST_ROOM[1];
    box.classList.toggle("beside", fits);
    if (!found || !fits) {
      for (const name of ["left", "top", "width", "height", "max-height"]) style.removeProperty(name);
      return found === null;
    }
    const [x, y, w, h] = found;
    style.left = `${x}px`;
    style.top = `${y}px`;
    style.width = `min(${w}px, 31em)`;
    style.height = "fit-content";
    style.maxHeight = `${h}px`;
    return true;
  }

  /** @type {Rig} */
  const rig = {
    role, panel, lamp, redraw, place, fill,
    inUse: undefined,
    go: /** @type {Ways} */ ({}),
    turn: turns.next,
    open(how, whenLeft = () => undefined) {
      left();
      left = whenLeft;
      draw = how;
      return turns.next();
    },
    holds(made) {
      const now = lamp.setting();
      if (!now) {
        rig.go.start();
        return false;
      }
      const changes = settingChanges(made, now);
      if (changes.length) changed(changes);
      return changes.length === 0;
    },
  };
  rig.go = ways(rig);
  return rig;
}

export function fill() {
  if (document.fullscreenElement) void document.exitFullscreen();
  else document.documentElement.requestFullscreen().catch(() => undefined);
}

/** Said where the panel covers what is lit. */
export function noRoom() {
  return element("p", { class: "wrong", role: "note" }, element("strong", {}, "This screen is too small for the light and these words."),
    "Turn it on its side, or ", element("a", { href: "/calibrate?window=desk" }, "type in one window and light in another"), ".");
}

/** What went wrong, or nothing. @param {Trouble | null | undefined} trouble */
export function said(trouble) {
  return trouble ? [wrong(trouble)] : [];
}
