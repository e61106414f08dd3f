// The first panel: what will happen, what to do before, the ways to a map, and the map in use.

import { call } from "../api.js";
import { element, heading } from "../table/panel.js";
import { settingChanges } from "../table/surface.js";
import { CAUTIONS, DEFER } from "../table/wording.js";
import { crossSet } from "./crosses.js";
import { noRoom, said } from "./rig.js";

/** @typedef {import("./rig.js").Rig} Rig */
/** @typedef {import("./rig.js").MapDetail} MapDetail */

/** Nobody throws a picture as narrow as a phone's, css px. */
const NARROW = 600;

/** @param {Rig} rig @param {import("./rig.js").Trouble | null} [trouble] */
export async function start(rig, trouble = null) {
  const still = rig.open(draw);
  const fresh = rig.inUse === undefined;
  const inUse = element("section", { "aria-label": "The map in use" });
  // The first time there is nothing to look at meanwhile; later it is drawn at once by what is known.
  if (!fresh) draw();
  const before = JSON.stringify(rig.inUse);
  try {
    const { maps } = /** @type {{maps: MapDetail[]}} */ (await call("GET", "/maps"));
    if (!still()) return;
    rig.inUse = maps[0] ?? null;
  } catch (error) {
    if (!still()) return;
    rig.inUse ??= null;
    trouble = /** @type {Error} */ (error);
    return draw();
  }
  if (fresh) draw();
  else if (JSON.stringify(rig.inUse) !== before) drawInUse();

  function draw() {
    const { role, panel, lamp } = rig;
    rig.place(false);
    const setting = lamp.setting();
    panel.show("start",
      heading("True size on the table"),
      ...said(trouble),
      ...(role === "both" && innerWidth < NARROW ? [noRoom()] : []),
      inUse,
      element("p", {}, "Crosses are lit; you measure between them with a tape and type what you read. Or a camera sees a printed board lying in the light. Nothing is dragged into place."),
      element("details", { open: !rig.inUse }, element("summary", {}, "What to do before"), element("ol", {},
        element("li", {}, "Fix the projector; switch its keystone correction and digital zoom off, for they blur the picture."),
        element("li", {}, "Lay flat on the table what you will cut on, and focus."),
        element("li", {}, "Fill the projector's screen. A thin line must be seen on all four sides of the picture."),
        element("li", {}, "A stiff tape or a rule; read to half a millimetre, or a 32nd of an inch."))),
      element("details", {}, element("summary", {}, "Lens, tethers, cables, blades: the cautions"),
        element("ul", {}, ...CAUTIONS.map((c) => element("li", {}, c))), element("p", {}, element("strong", {}, DEFER))),
      pictureWords(setting),
      ...(role === "desk" && !setting ? [element("p", {}, element("a", { href: "/calibrate?window=light", target: "grainfold-light" }, "Open the window for the projector"))] : []),
      element("div", { class: "actions" },
        ...(role === "both" ? [element("button", { click: rig.fill }, document.fullscreenElement ? "Leave full screen" : "Fill the screen")] : []),
        element("button", { class: "main", disabled: !setting, click: () => rig.go.tape("corners") }, "Four crosses, six distances"),
        element("button", { disabled: !setting, click: () => rig.go.tape("grid") }, "Nine crosses, for a truer map"),
        element("button", { disabled: !setting, click: () => rig.go.photographs() }, "By photographs of a printed board"),
        ...(role === "both" ? [element("a", { class: "button", href: "/calibrate?window=desk" }, "Type in this window, light in another")] : []),
        element("a", { class: "button", href: "/" }, "To the desk")));
    drawInUse();
    lamp.show(setting ? { kind: "crosses", set: crossSet("corners", setting.canvas), pair: null } : { kind: "dark" });
  }

  /** Alone, for it may be heard of while the rest is in use. */
  function drawInUse() {
    const setting = rig.lamp.setting();
    inUse.replaceChildren(...(rig.inUse && setting ? mapInUse(rig, rig.inUse, settingChanges(rig.inUse, setting)) : []));
  }
}

/** @param {Rig} rig @param {MapDetail} map @param {string[]} changes */
function mapInUse(rig, map, changes) {
  if (changes.length) {
    return [element("p", {}, `The map in use does not hold for this picture: ${changes.join("; ")}.`)];
  }
  return [element("p", {}, `The map in use: ${map.verdict_text}`),
    element("div", { class: "actions" },
      element("button", { click: () => rig.go.check(map) }, "Only check the map in use"),
      ...(map.marks_made ? [element("button", { id: "quick-look", click: () => rig.go.quickLook(map) }, "Was it bumped? Look at the four marks")] : []),
      element("button", { click: () => rig.go.known(map) }, "How true the map in use is"))];
}

/** @param {import("../table/surface.js").ScreenSetting | null} setting */
function pictureWords(setting) {
  if (!setting) return element("p", { role: "status" }, "No light is there yet.");
  return element("p", { role: "status" }, `The picture is ${setting.canvas.join(" x ")} px. It should be the projector's own number of pixels: see its data sheet.`);
}
