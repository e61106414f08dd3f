// One picture of the live camera, at its full size; only where the browser gives one.

/** Why there is no picture of the live camera, by the browser's name for it. @type {Readonly<Record<string, {message: string, hint: string}>>} */
const CAMERA_TROUBLES = Object.freeze({
  NotAllowedError: { message: "The camera may not be used.", hint: "Allow it for this address in the browser, or send a photograph instead." },
  NotReadableError: { message: "The camera is in use elsewhere.", hint: "Close the other program that shows its picture, then try again, or send a photograph instead." },
  NotFoundError: { message: "No camera was found.", hint: "Take a photograph with a phone and send the file." },
});

/** From putting the panel away to its being gone from the camera's picture, ms. */
const LIGHT_LAG = 700;

/** May this browser be asked for a live camera? */
export function hasCamera() {
  return Boolean(navigator.mediaDevices && "getUserMedia" in navigator.mediaDevices);
}

/** @param {unknown} error */
export function cameraTrouble(error) {
  return CAMERA_TROUBLES[/** @type {Error} */ (error).name] ?? CAMERA_TROUBLES.NotFoundError;
}

export function makeCamera() {
  /** @type {MediaStream | null} */
  let stream = null;
  let closed = false;
  return {
    /** @param {() => void} clear  put away what lies over the light @returns {Promise<Blob | null>} */
    async snap(clear) {
      stream ??= await navigator.mediaDevices.getUserMedia({ video: { width: { ideal: 3840 }, height: { ideal: 2160 }, facingMode: "environment" } });
      if (closed) {
        stop();
        return null;
      }
      const video = document.createElement("video");
      video.srcObject = stream;
      video.muted = true;
      await video.play();
      clear();
      await new Promise((resolve) => setTimeout(resolve, LIGHT_LAG));
      await new Promise((resolve) => video.requestVideoFrameCallback(() => resolve(null)));
      const canvas = document.createElement("canvas");
      canvas.width = video.videoWidth;
      canvas.height = video.videoHeight;
      /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d")).drawImage(video, 0, 0);
      return new Promise((resolve) => canvas.toBlob(resolve, "image/png"));
    },
    close() {
      closed = true;
      stop();
    },
  };

  function stop() {
    for (const track of stream?.getTracks() ?? []) track.stop();
    stream = null;
  }
}
