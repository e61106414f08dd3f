// What happens to the cuttings, as this page hears it.

import { openStream } from "./news_stream.js";

/** @typedef {import("./news_stream.js").News} News */

/** Who listens in this page. @type {Set<(news: News) => void>} */
const listeners = new Set();
let begun = false;
let stands = false;

/**
 * Listen until told to stop. `ready` comes at once if the stream stands already.
 * @param {(news: News) => void} listener
 * @returns {() => void} stop
 */
export function listen(listener) {
  if (!begun) connect();
  begun = true;
  listeners.add(listener);
  if (stands) listener({ kind: "ready" });
  return () => listeners.delete(listener);
}

/** @param {News} news */
function tell(news) {
  if (news.kind !== "cutting") stands = news.kind === "ready";
  for (const listener of [...listeners]) listener(news);
}

function connect() {
  // Browsers without shared workers, on some phones, keep a stream for each page.
  if (typeof SharedWorker === "undefined") return openStream(tell);
  const { port } = new SharedWorker("/web/app/news_worker.js", { type: "module", name: "grainfold news" });
  port.onmessage = (event) => tell(event.data);
  addEventListener("pagehide", (event) => {
    if (!event.persisted) port.postMessage("bye");
  });
}
