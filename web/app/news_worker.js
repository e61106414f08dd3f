// Shared by all windows of this browser: one stream of the service's news for all of them. A browser
// opens six connections to a service at most, and each stream would keep one.

import { openStream } from "./news_stream.js";

/** @type {Set<MessagePort>} */
const ports = new Set();
let stands = false;

openStream((news) => {
  if (news.kind !== "cutting") stands = news.kind === "ready";
  for (const port of ports) port.postMessage(news);
});

/** @type {any} */ (globalThis).onconnect = (/** @type {MessageEvent} */ event) => {
  const [port] = event.ports;
  ports.add(port);
  port.onmessage = () => ports.delete(port); // the page's only word: it goes
  if (stands) port.postMessage({ kind: "ready" });
};
