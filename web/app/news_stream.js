// The one stream of all cuttings' changes, kept open. Runs in a page or in the worker that all share.

/** @import {Cutting} from "./table/session.js" */

/**
 * `ready`: the stream stands; what was changed before has to be asked for. `lost`: it broke off, and is
 * tried again.
 * @typedef {{kind: "ready"} | {kind: "lost"} | {kind: "cutting", lay_id: string, cloth: string, cutting: Cutting}} News
 */

/** A stream that was refused is tried again so much later, ms. */
const REFUSED_MS = 3000;

/** @param {(news: News) => void} tell */
export function openStream(tell) {
  const source = new EventSource("/api/cuttings/events");
  source.addEventListener("ready", () => tell({ kind: "ready" }));
  source.addEventListener("cutting", (event) => tell({ kind: "cutting", ...JSON.parse(event.data) }));
  source.addEventListener("error", () => {
    tell({ kind: "lost" });
    // The browser connects again by itself, but not after a refusal: the device may be let in later.
    if (source.readyState === EventSource.CLOSED) setTimeout(() => openStream(tell), REFUSED_MS);
  });
}
