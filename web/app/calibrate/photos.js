// The camera route: a printed board, the lit pattern around it, photographs of both.

import { call } from "../api.js";
import { element, heading } from "../table/panel.js";
import { boardForm } from "./board.js";
import { cameraTrouble, hasCamera, makeCamera } from "./live.js";
import { makeLooks } from "./looks.js";
import { photoView } from "./preview.js";
import { said } from "./rig.js";

/** @typedef {import("./preview.js").Photo} Photo */
/** @typedef {import("./preview.js").Look} Look */

const MOST_PHOTOS = 12;

/** @param {import("./rig.js").Rig} rig */
export function photographs(rig) {
  const setting = rig.lamp.setting();
  if (!setting) return rig.go.start();
  const made = setting;
  /** @type {{canvas: [number, number], black: [number, number, number, number][]} | null} */
  let pattern = null;
  let making = false;
  /** The pattern alone is wanted: nothing is shown over it. */
  let alone = false;
  const camera = makeCamera();
  /** @type {import("./looks.js").Looks<Photo, Look>} */
  const looks = makeLooks({ look: lookAt, changed: update, most: MOST_PHOTOS });
  const board = boardForm(() => looks.again());
  /** @type {Map<Photo, {look: Look, figure: HTMLElement}>} */
  const figures = new Map();

  // The parts that change: the rest is made once, so that nobody loses what is half typed, nor the place of the keys.
  const trouble = element("div", {});
  const whatToDo = element("details", { open: true }, element("summary", {}, "What to do"), element("ol", {},
    element("li", {}, "Print a board at 100 %: ", ...["A3", "A4", "Letter"].flatMap((paper, i) => [i ? ", " : "", element("a", { href: `/api/boards/${paper}.pdf`, target: "_blank", rel: "noopener" }, paper)]), ". Larger is truer. Let it lie flat: glue it to card."),
    element("li", {}, "Measure its two lines with a steel rule and type what you read. What the printer meant is not believed."),
    element("li", {}, "Lay it in the white place of the lit pattern, on the cloth or as high as the cloth will lie. On checked or patterned cloth spread a plain white sheet over it: the camera takes its pattern for the board's."),
    element("li", {}, "Photograph the whole pattern from well above, from another side than the projector throws from, sharp and without flash. One photograph will do; five or more, the board in another place each time, are truer and tell of the projector's lens."),
    element("li", {}, "Afterwards lines are lit, and a tape is the other witness: it knows nothing of camera and print.")));
  const files = /** @type {HTMLInputElement} */ (element("input", {
    id: "photo-files", class: "unseen", type: "file", accept: "image/jpeg,image/png,image/webp", multiple: true, capture: "environment",
    change: (e) => { files.focus(); add([...e.target.files].map((/** @type {File} */ f) => ({ file: f, name: f.name }))); e.target.value = ""; },
  }));
  const filesLabel = element("label", { for: "photo-files", class: "button" }, "Choose photographs");
  const status = element("p", { role: "status", "aria-live": "polite" });
  const found = element("div", {});
  const makeButton = /** @type {HTMLButtonElement} */ (element("button", { id: "make-map", click: () => void make() }, "Make the map, and check"));
  const parts = [
    heading("True size by photographs"), trouble, whatToDo, board.sentence,
    element("div", { class: "row" }, files, filesLabel,
      ...(hasCamera() ? [element("button", { id: "snap", type: "button", click: () => void snap() }, "Use this computer's camera")]
        : [element("p", { id: "no-camera", class: "soft" }, isSecureContext ? "This browser gives no live camera: take the photograph with a phone or a camera, and send the file." : "Over plain http browsers give no live camera. A photograph sent as a file does the same, and is sharper.")])),
    status, found,
    element("div", { class: "actions" }, makeButton,
      element("button", { id: "pattern-alone", click: patternAlone }, "Show the pattern alone"),
      element("button", { click: () => rig.go.start() }, "Back"))];

  const still = rig.open(draw, () => {
    camera.close();
    looks.stop();
  });
  void light();
  draw();
  update();

  function draw() {
    if (!rig.holds(made)) return;
    if (pattern) rig.lamp.show({ kind: "pattern", black: pattern.black });
    rig.place(false);
    if (!alone && rig.panel.name !== "photos") rig.panel.show("photos", ...parts);
  }

  async function light() {
    const [width, height] = made.canvas;
    try {
      pattern = await call("GET", `/boards/pattern?width=${width}&height=${height}`);
      if (still()) draw();
    } catch (error) {
      tell(/** @type {Error} */ (error));
    }
  }

  /** @param {{message: string, hint?: string} | null} what */
  function tell(what) {
    trouble.replaceChildren(...said(what));
    if (what) trouble.scrollIntoView({ block: "nearest" });
  }

  function update() {
    const done = looks.done();
    const now = looks.now();
    const ready = done.some(({ seen }) => seen.seen?.printed && seen.seen.thrown);
    filesLabel.textContent = done.length ? "Add photographs" : "Choose photographs";
    status.textContent = making ? "Working out the map …" : now ? `Looking at ${now.name} …` : "";
    makeButton.className = ready ? "main" : "";
    makeButton.disabled = !ready || making || now !== null;
    for (const [photo, { look, figure }] of figures) {
      if (done.some((d) => d.one === photo && d.seen === look)) continue;
      figure.remove();
      figures.delete(photo);
    }
    done.forEach(({ one, seen }, i) => {
      if (figures.has(one)) return;
      const figure = photoView(one, seen, () => leaveOut(one));
      figures.set(one, { look: seen, figure });
      found.insertBefore(figure, found.children[i] ?? null);
    });
    // To what comes next, for whoever works by keys, unless they are at something else.
    if (!now && !making && ["", "panel", files.id].includes(document.activeElement?.id ?? "")) (ready ? makeButton : files).focus();
  }

  /** @param {Photo[]} photos */
  function add(photos) {
    whatToDo.removeAttribute("open");
    const left = looks.add(photos);
    tell(left.length ? { message: `${MOST_PHOTOS} photographs are the most.`, hint: `Not looked at: ${left.map((p) => p.name).join(", ")}. Leave another out to make room.` } : null);
  }

  /** @param {Photo} photo */
  function leaveOut(photo) {
    looks.drop(photo);
    (makeButton.disabled ? files : makeButton).focus();
  }

  /** @param {Photo} photo @param {AbortSignal} signal @returns {Promise<Look>} */
  async function lookAt({ file, name }, signal) {
    const body = new FormData();
    body.append("photo", file, name);
    body.append("wish", JSON.stringify({ canvas: made.canvas, board: board.wire() }));
    try {
      return { ...(await /** @type {Promise<{seen: import("./preview.js").Seen, words: string[]}>} */ (call("POST", "/photos/look", body, signal))), trouble: null };
    } catch (error) {
      return { seen: null, words: [], trouble: /** @type {Error} */ (error) };
    }
  }

  /** The panel lies over the pattern and is put away for the picture. */
  async function snap() {
    try {
      const blob = await camera.snap(() => { if (still()) hide(); });
      if (blob && still()) add([{ file: blob, name: `picture ${looks.done().length + 1}` }]);
    } catch (error) {
      tell(cameraTrouble(error));
    }
    if (still()) back();
  }

  async function make() {
    making = true;
    tell(null);
    update();
    try {
      const map = /** @type {import("./rig.js").MapDetail} */ (await call("POST", "/maps/by-photos", {
        name: "table, by photographs", canvas: made.canvas, dpr: made.dpr, screen: made.screen, board: board.wire(),
        photos: looks.done().flatMap(({ seen }) => (seen.seen ? [seen.seen] : [])),
      }));
      rig.inUse = map;
      if (still()) rig.go.check(map);
    } catch (error) {
      making = false;
      tell(/** @type {Error} */ (error));
      update();
    }
  }

  /** Nothing but the pattern, until a key or the pointer is pressed. */
  function patternAlone() {
    hide();
    const again = () => {
      removeEventListener("keydown", again);
      removeEventListener("pointerdown", again);
      if (still()) back();
    };
    setTimeout(() => {
      addEventListener("keydown", again);
      addEventListener("pointerdown", again);
    }, 0);
  }

  function hide() {
    alone = true;
    if (rig.panel.name === "photos") rig.panel.close();
  }

  function back() {
    alone = false;
    draw();
  }
}
