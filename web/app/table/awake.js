// The screen stays awake while the layout is lit, and the pointer out of the light.

/** @type {WakeLockSentinel | null} */
let lock = null;

/** Hold the screen awake; browsers let go of it when the page is hidden, so ask again when it is shown. */
export async function keepAwake() {
  if (document.visibilityState !== "visible" || (lock && !lock.released)) return;
  try {
    lock = (await navigator.wakeLock?.request("screen")) ?? null;
  } catch {
    // Refused, on battery for one: the picture stays as it is, only the screen may go to sleep.
  }
}

/** The pointer is light on the cloth too: hidden unless it moves. */
export function hidePointer() {
  let timer = 0;
  addEventListener("pointermove", () => {
    document.body.classList.add("pointing");
    clearTimeout(timer);
    timer = window.setTimeout(() => document.body.classList.remove("pointing"), 2500);
  });
}
