// A canvas whose pixels are the screen's pixels, one to one, and the screen it belongs to.

/**
 * @typedef {object} ScreenSetting  what a table map is tied to
 * @property {[number, number]} canvas  device px
 * @property {number} dpr
 * @property {string} screen  the screen's size in words of its own
 */

/**
 * Size in device px of an element that fills `css` px. Rounded, never floored: at a ratio of 1.25
 * a floored canvas is stretched by the browser and every thin line goes soft.
 * @param {[number, number]} css
 * @param {number} dpr
 * @returns {[number, number]}
 */
export function devicePixels(css, dpr) {
  return [Math.round(css[0] * dpr), Math.round(css[1] * dpr)];
}

/**
 * Keep `element`'s size in device px known: calls `changed` at once and whenever it changes.
 * @param {HTMLElement} element
 * @param {(size: [number, number]) => void} changed
 * @returns {() => void} stop
 */
export function watchSize(element, changed) {
  let last = "";
  /** @param {[number, number]} size */
  const tell = (size) => {
    if (size[0] < 1 || size[1] < 1 || size.join() === last) return;
    last = size.join();
    changed(size);
  };
  const measure = () => tell(devicePixels([element.clientWidth, element.clientHeight], devicePixelRatio));
  const observer = new ResizeObserver((entries) => {
    const box = entries[0]?.devicePixelContentBoxSize?.[0];
    const rounded = devicePixels([element.clientWidth, element.clientHeight], devicePixelRatio);
    // The box knows to which side the browser rounded; where it is more than a pixel off, the ratio
    // is an emulated one that the box has not heard of.
    const agrees = box && Math.abs(box.inlineSize - rounded[0]) <= 1 && Math.abs(box.blockSize - rounded[1]) <= 1;
    tell(agrees ? [box.inlineSize, box.blockSize] : rounded);
  });
  try {
    observer.observe(element, { box: "device-pixel-content-box" });
  } catch {
    observer.observe(element); // no such box here: css size times ratio, rounded
  }
  addEventListener("resize", measure);
  measure();
  return () => {
    observer.disconnect();
    removeEventListener("resize", measure);
  };
}

/**
 * @param {HTMLCanvasElement} canvas
 * @param {[number, number]} size
 */
export function setSize(canvas, [width, height]) {
  if (canvas.width !== width) canvas.width = width;
  if (canvas.height !== height) canvas.height = height;
}

/**
 * The setting as it is now.
 * @param {[number, number]} canvas
 * @returns {ScreenSetting}
 */
export function screenSetting(canvas) {
  return { canvas, dpr: devicePixelRatio, screen: `${screen.width} x ${screen.height}` };
}

/**
 * What differs between the setting a map was made for and the present one, in words; empty when
 * nothing does.
 * @param {ScreenSetting} made
 * @param {ScreenSetting} now
 * @returns {string[]}
 */
export function settingChanges(made, now) {
  const changes = [];
  if (made.canvas[0] !== now.canvas[0] || made.canvas[1] !== now.canvas[1]) {
    changes.push(`the picture was ${made.canvas.join(" x ")} px and is ${now.canvas.join(" x ")} px`);
  }
  if (Math.abs(made.dpr - now.dpr) > 1e-6) changes.push(`the zoom was ${percent(made.dpr)} and is ${percent(now.dpr)}`);
  if (made.screen && made.screen !== now.screen) changes.push(`the screen was ${made.screen} and is ${now.screen}`);
  return changes;
}

/** @param {number} dpr */
function percent(dpr) {
  return `${Math.round(dpr * 100)} %`;
}
