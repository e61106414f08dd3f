// The calibration page, camera route: a printed board, the lit pattern around it, photographs of both.

import { call } from "../api.js";
import { element, heading, wrong } from "../table/panel.js";

/** @typedef {import("./lamp.js").Lamp} Lamp */
/** @typedef {import("../table/surface.js").ScreenSetting} ScreenSetting */
/** @typedef {{camera_px: [number, number][], ids: number[], contrast: number, square_px: number, edge_px: number}} Corners */
/** @typedef {{size_px: [number, number], printed: Corners | null, thrown: Corners | null}} Seen */
/** @typedef {{file: Blob, name: string, seen: Seen | null, words: string[], trouble: {message: string, hint?: string} | null}} Photo */
/** @typedef {{columns: string, rows: string, alongSquares: string, along: string, acrossSquares: string, across: string, unit: string}} Board */

/** Why there is no picture of the live camera, by the browser's name for it. @type {Readonly<Record<string, {message: string, hint: string}>>} */
const CAMERA_TROUBLES = Object.freeze({
  NotAllowedError: { message: "The camera may not be used.", hint: "Allow it for this address in the browser, or send a photograph instead." },
  NotReadableError: { message: "The camera is in use elsewhere.", hint: "Close the other program that shows its picture, then try again, or send a photograph instead." },
  NotFoundError: { message: "No camera was found.", hint: "Take a photograph with a phone and send the file." },
});

const KEPT = "grainfold.board";
const PREVIEW = 800;
const MOST_PHOTOS = 12;

/** From putting the panel away to its being gone from the camera's picture, ms. */
const LIGHT_LAG = 700;

/** @type {Board} */
const A3_BOARD = { columns: "9", rows: "6", alongSquares: "10", along: "", acrossSquares: "7", across: "", unit: "mm" };

/**
 * Returns what to call when the picture has its size again after it had another.
 * @param {{panel: ReturnType<typeof import("../table/panel.js").makePanel>, lamp: Lamp, made: ScreenSetting, back: () => void, done: (map: any) => void}} where
 */
export function byPhotos({ panel, lamp, made, back, done }) {
  /** @type {Board} */
  let board = keptBoard();
  /** @type {Photo[]} */
  let photos = [];
  /** @type {{message: string, hint?: string} | null} */
  let trouble = null;
  /** @type {{canvas: [number, number], black: [number, number, number, number][]} | null} */
  let pattern = null;
  let busy = "";
  /** @type {MediaStream | null} */
  let stream = null;

  void light();
  show();
  return () => {
    if (pattern) lamp.show({ kind: "pattern", black: pattern.black });
    show();
  };

  async function light() {
    const [width, height] = made.canvas;
    try {
      pattern = await call("GET", `/boards/pattern?width=${width}&height=${height}`);
      if (pattern) lamp.show({ kind: "pattern", black: pattern.black });
    } catch (error) {
      trouble = /** @type {Error} */ (error);
      show();
    }
  }

  function show() {
    const now = trouble ? [wrong(trouble)] : [];
    trouble = null;
    const ready = mayMake();
    const held = document.activeElement?.id ?? "";
    panel.show("photos",
      heading("True size by photographs"),
      ...now,
      element("details", { open: photos.length === 0 && busy === "" }, element("summary", {}, "What to do"), element("ol", {},
        element("li", {}, "Print a board at 100 %: ", ...["A3", "A4", "Letter"].flatMap((paper, i) => [i ? ", " : "", element("a", { href: `/api/boards/${paper}.pdf`, target: "_blank", rel: "noopener" }, paper)]), ". Larger is truer. Let it lie flat: glue it to card."),
        element("li", {}, "Measure its two lines with a steel rule and type what you read. What the printer meant is not believed."),
        element("li", {}, "Lay it in the white place of the lit pattern, on the cloth or as high as the cloth will lie."),
        element("li", {}, "Photograph the whole pattern from well above, from another side than the projector throws from, sharp and without flash. One photograph will do; five or more, the board in another place each time, are truer and tell of the projector's lens."))),
      boardForm(),
      photoPart(),
      element("p", { role: "status", "aria-live": "polite" }, busy),
      ...photos.map(photoView),
      element("div", { class: "actions" },
        element("button", { id: "make-map", class: ready ? "main" : "", disabled: !ready || busy !== "", click: () => void make() }, "Make the map, and check"),
        element("button", { id: "pattern-alone", click: alone }, "Show the pattern alone"),
        element("button", { click: leave }, "Back")));
    // Everything was made anew: whoever works by keys stays where they were.
    if (held) document.getElementById(held)?.focus();
  }

  function mayMake() {
    return photos.some((p) => p.seen?.printed && p.seen.thrown);
  }

  /** To what comes next, for whoever works by keys. */
  function goOn() {
    document.getElementById(mayMake() ? "make-map" : "photo-files")?.focus();
  }

  function boardForm() {
    /** @param {keyof Board} name @param {string} label @param {string} size */
    const field = (name, label, size) => element("input", {
      id: `board-${name}`, value: board[name], "aria-label": label, size, autocomplete: "off", spellcheck: "false", inputmode: name === "along" || name === "across" ? "text" : "numeric",
      change: (e) => { board = { ...board, [name]: e.target.value.trim() }; localStorage.setItem(KEPT, JSON.stringify(board)); forget(); },
    });
    return element("p", { class: "sentence" },
      "The board has ", field("columns", "Inner corners of the board, first count", "2"), " by ", field("rows", "Inner corners of the board, second count", "2"),
      " points where four squares meet. Along, ", field("alongSquares", "Squares measured along", "2"), " squares measure ", field("along", "Length measured along", "8"),
      "; across, ", field("acrossSquares", "Squares measured across", "2"), " squares measure ", field("across", "Length measured across", "8"), " ",
      element("select", { id: "board-unit", "aria-label": "Unit of bare numbers", change: (e) => { board = { ...board, unit: e.target.value }; localStorage.setItem(KEPT, JSON.stringify(board)); forget(); } },
        ...[["mm", "mm"], ["cm", "cm"], ["in", "inches"]].map(([v, t]) => element("option", { value: v, selected: v === board.unit }, t))), ".");
  }

  function photoPart() {
    const input = element("input", {
      id: "photo-files", class: "unseen", type: "file", accept: "image/jpeg,image/png,image/webp", multiple: true, capture: "environment", disabled: busy !== "",
      change: (e) => void take([...e.target.files].map((/** @type {File} */ f) => ({ file: f, name: f.name }))),
    });
    const camera = navigator.mediaDevices && "getUserMedia" in navigator.mediaDevices;
    return element("div", { class: "row" },
      input, element("label", { for: "photo-files", class: "button" }, photos.length ? "Add photographs" : "Choose photographs"),
      ...(camera ? [element("button", { id: "snap", type: "button", disabled: busy !== "", click: () => void snap() }, "Use this computer's camera")]
        : [element("p", { id: "no-camera", class: "soft" }, isSecureContext ? "This browser gives no live camera: take the photograph with a phone or a camera, and send the file." : "Over plain http browsers give no live camera. A photograph sent as a file does the same, and is sharper.")]));
  }

  /** @param {Photo} photo */
  function photoView(photo) {
    const preview = /** @type {HTMLCanvasElement} */ (element("canvas", { class: "preview", role: "img", "aria-label": `What was found in ${photo.name}` }));
    void drawFound(preview, photo);
    return element("figure", {},
      preview,
      element("figcaption", {},
        element("strong", {}, photo.name),
        ...(photo.trouble ? [wrong(photo.trouble)] : photo.words.map((w) => element("p", {}, w))),
        element("button", { class: "small", type: "button", "aria-label": `Leave ${photo.name} out`, click: () => { photos = photos.filter((p) => p !== photo); show(); goOn(); } }, "Leave it out")));
  }

  /** @param {{file: Blob, name: string}[]} files */
  async function take(files) {
    for (const { file, name } of files.slice(0, MOST_PHOTOS - photos.length)) {
      busy = `Looking at ${name} …`;
      show();
      const body = new FormData();
      body.append("photo", file, name);
      body.append("wish", JSON.stringify({ canvas: made.canvas, board: wireBoard() }));
      /** @type {Photo} */
      const photo = { file, name, seen: null, words: [], trouble: null };
      try {
        const found = /** @type {{seen: Seen, words: string[]}} */ (await call("POST", "/photos/look", body));
        photo.seen = found.seen;
        photo.words = found.words;
      } catch (error) {
        photo.trouble = /** @type {Error} */ (error);
      }
      photos = [...photos, photo];
    }
    busy = "";
    show();
    goOn();
  }

  /** One picture of the live camera, at its full size; the panel lies over the pattern and is put away for it. */
  async function snap() {
    try {
      stream ??= await navigator.mediaDevices.getUserMedia({ video: { width: { ideal: 3840 }, height: { ideal: 2160 }, facingMode: "environment" } });
      const video = document.createElement("video");
      video.srcObject = stream;
      video.muted = true;
      await video.play();
      panel.close();
      await new Promise((resolve) => setTimeout(resolve, LIGHT_LAG));
      await new Promise((resolve) => video.requestVideoFrameCallback(() => resolve(null)));
      const canvas = document.createElement("canvas");
      canvas.width = video.videoWidth;
      canvas.height = video.videoHeight;
      /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d")).drawImage(video, 0, 0);
      const blob = await new Promise((resolve) => canvas.toBlob(resolve, "image/png"));
      if (blob) await take([{ file: blob, name: `picture ${photos.length + 1}` }]);
    } catch (error) {
      trouble = CAMERA_TROUBLES[/** @type {Error} */ (error).name] ?? CAMERA_TROUBLES.NotFoundError;
      show();
    }
  }

  async function make() {
    busy = "Working out the map …";
    show();
    try {
      const map = await call("POST", "/maps/by-photos", {
        name: "table, by photographs", canvas: made.canvas, dpr: made.dpr, screen: made.screen, board: wireBoard(),
        photos: photos.filter((p) => p.seen).map((p) => p.seen),
      });
      close();
      done(map);
    } catch (error) {
      busy = "";
      trouble = /** @type {Error} */ (error);
      show();
      goOn();
    }
  }

  function wireBoard() {
    return {
      corners: [Number(board.columns), Number(board.rows)],
      along: { squares: Number(board.alongSquares), length: board.along },
      across: { squares: Number(board.acrossSquares), length: board.across },
      unit: board.unit,
    };
  }

  /** The board was changed: what was found with another one does not hold. */
  function forget() {
    const again = photos.map(({ file, name }) => ({ file, name }));
    photos = [];
    if (again.length) void take(again);
  }

  /** Nothing but the pattern, until a key or the pointer is pressed. */
  function alone() {
    panel.close();
    const again = () => {
      removeEventListener("keydown", again);
      removeEventListener("pointerdown", again);
      show();
    };
    setTimeout(() => {
      addEventListener("keydown", again);
      addEventListener("pointerdown", again);
    }, 0);
  }

  function close() {
    for (const track of stream?.getTracks() ?? []) track.stop();
    stream = null;
  }

  function leave() {
    close();
    back();
  }
}

/** The photo with the corners found in it: squares on the print, crosses on the light. @param {HTMLCanvasElement} canvas @param {Photo} photo */
async function drawFound(canvas, photo) {
  const picture = await createImageBitmap(photo.file).catch(() => null);
  if (!picture) return;
  const scale = PREVIEW / Math.max(picture.width, picture.height);
  canvas.width = Math.round(picture.width * scale);
  canvas.height = Math.round(picture.height * scale);
  const ctx = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));
  ctx.drawImage(picture, 0, 0, canvas.width, canvas.height);
  if (!photo.seen) return;
  const [kx, ky] = [canvas.width / photo.seen.size_px[0], canvas.height / photo.seen.size_px[1]];
  for (const [x, y] of photo.seen.printed?.camera_px ?? []) mark(ctx, x * kx, y * ky, false);
  for (const [x, y] of photo.seen.thrown?.camera_px ?? []) mark(ctx, x * kx, y * ky, true);
}

/** @param {CanvasRenderingContext2D} ctx @param {number} x @param {number} y @param {boolean} light */
function mark(ctx, x, y, light) {
  for (const [width, colour] of /** @type {const} */ ([[4, "#000000"], [1.6, "#ffffff"]])) {
    ctx.lineWidth = width;
    ctx.strokeStyle = colour;
    ctx.beginPath();
    if (light) {
      ctx.moveTo(x - 4, y - 4);
      ctx.lineTo(x + 4, y + 4);
      ctx.moveTo(x - 4, y + 4);
      ctx.lineTo(x + 4, y - 4);
    } else ctx.rect(x - 3, y - 3, 6, 6);
    ctx.stroke();
  }
}

/** @returns {Board} */
function keptBoard() {
  try {
    return { ...A3_BOARD, ...JSON.parse(localStorage.getItem(KEPT) ?? "{}") };
  } catch {
    return A3_BOARD;
  }
}
