/**
 * The only module that talks to the service: one function a route, one error for all that goes wrong.
 */

/** @import {ApiErrorBody, Change, ChangeAnswer, ClothResult, Example, Finding, Girth, LayDetail, LayRequest, LaySummary, Measure, Seam, Sheet, StyleDetail, StyleLook, StyleSummary} from "./wire.js" */

/** What the service refused, or that it did not answer; `message` and `hint` can be shown as they are. */
export class ApiError extends Error {
  /**
   * @param {ApiErrorBody} body
   * @param {number} status 0 when no answer came
   */
  constructor(body, status) {
    super(body.message);
    this.code = body.code;
    this.hint = body.hint ?? "";
    this.where = body.where ?? "";
    /** What may be answered, where the service asked: value and what it means. */
    this.choices = body.choices ?? [];
    this.status = status;
  }
}

/**
 * Send one request and read its JSON answer. Other pages' modules may use it for their own routes.
 * @template T
 * @param {string} method
 * @param {string} path below /api, with its leading slash
 * @param {unknown} [body] JSON, or a FormData as it is
 * @param {AbortSignal} [signal]
 * @returns {Promise<T>}
 * @throws {ApiError}
 */
export async function call(method, path, body, signal) {
  /** @type {RequestInit} */
  const options = { method, signal, headers: { Accept: "application/json" } };
  if (body instanceof FormData) options.body = body;
  else if (body !== undefined) {
    options.body = JSON.stringify(body);
    options.headers = { ...options.headers, "Content-Type": "application/json" };
  }
  /** @type {Response} */
  let answer;
  try {
    answer = await fetch(`/api${path}`, options);
  } catch (cause) {
    if (signal?.aborted) throw cause;
    throw new ApiError(
      { code: "no-answer", message: "The service does not answer.", hint: "Nothing saved is lost. See that grainfold serve is still running, then try again." },
      0,
    );
  }
  if (answer.status === 204) return /** @type {T} */ (undefined);
  /** @type {any} */
  let content = null;
  try {
    content = await answer.json();
  } catch {
    content = null;
  }
  if (answer.ok && content !== null) return /** @type {T} */ (content);
  const error = content?.error ?? {
    code: "unreadable-answer",
    message: `The service gave an answer that cannot be read (status ${answer.status}).`,
    hint: "Try again; if it stays, look at the window in which the service runs.",
  };
  throw new ApiError(error, answer.status);
}

/** @returns {Promise<{name: string, version: string, engine: {state: string, text: string}, data_dir_ok: boolean}>} */
export const health = () => call("GET", "/health");

/** @returns {Promise<Example[]>} */
export const listEdges = async () =>
  (await /** @type {Promise<{examples: Example[]}>} */ (call("GET", "/edges"))).examples;

/** @returns {Promise<StyleSummary[]>} */
export const listStyles = async () =>
  (await /** @type {Promise<{styles: StyleSummary[]}>} */ (call("GET", "/styles"))).styles;

/** @param {string} id @returns {Promise<StyleDetail>} */
export const getStyle = (id) => call("GET", `/styles/${encodeURIComponent(id)}`);

/** How much of a style wants to be looked at; null for one that is gone. @param {string} id @returns {Promise<StyleLook | null>} */
export const getLook = async (id) =>
  (await /** @type {Promise<{looks: StyleLook[]}>} */ (call("GET", `/looks?style=${encodeURIComponent(id)}`))).looks[0] ?? null;

/** @param {string} id @returns {Promise<{seams: Seam[], findings: Finding[]}>} */
export const getTruing = (id) => call("GET", `/styles/${encodeURIComponent(id)}/truing`);

/** @param {Sheet} sheet @returns {Promise<StyleDetail>} */
export const addSheet = (sheet) => call("POST", "/styles", sheet);

/**
 * @param {File} file
 * @param {Record<string, string>} [fields] answers to what the service asked about the file
 * @returns {Promise<StyleDetail>}
 */
export function addFile(file, fields = {}) {
  const form = new FormData();
  form.append("file", file, file.name);
  for (const [name, value] of Object.entries(fields)) form.append(name, value);
  return call("POST", "/styles", form);
}

/** @param {string} id @param {Sheet} sheet @param {number} revision @returns {Promise<StyleDetail>} */
export const putSheet = (id, sheet, revision) =>
  call("PUT", `/styles/${encodeURIComponent(id)}`, { sheet, revision });

/** @param {string} id @returns {Promise<StyleDetail>} */
export const undoStyle = (id) => call("POST", `/styles/${encodeURIComponent(id)}/undo`);

/** @param {string} id @returns {Promise<StyleDetail>} */
export const redoStyle = (id) => call("POST", `/styles/${encodeURIComponent(id)}/redo`);

/**
 * What a change would make of a piece; nothing is kept.
 * @param {string} styleId
 * @param {string} piece
 * @param {Change} change
 * @param {AbortSignal} [signal]
 * @returns {Promise<ChangeAnswer>}
 */
export const tryChange = (styleId, piece, change, signal) =>
  call("POST", "/changes", { style_id: styleId, piece, change }, signal);

/**
 * Girths of the style's pieces against body and ease; null takes the measures that the sheet holds.
 * @param {string} styleId
 * @param {Measure[] | null} measures
 * @returns {Promise<{girths: Girth[], lines: string[], findings: Finding[]}>}
 */
export const checkBody = (styleId, measures) => call("POST", "/body-check", { style_id: styleId, measures });

/** @param {string} id @returns {Promise<void>} */
export const deleteStyle = (id) => call("DELETE", `/styles/${encodeURIComponent(id)}`);

/** @param {LayRequest} request @returns {Promise<LayDetail>} */
export const startLay = (request) => call("POST", "/lays", request);

/** @param {string} id @returns {Promise<LayDetail>} */
export const getLay = (id) => call("GET", `/lays/${encodeURIComponent(id)}`);

/** @param {string} id @returns {Promise<LayDetail>} */
export const stopLay = (id) => call("POST", `/lays/${encodeURIComponent(id)}/stop`);

/** @param {string} id @returns {Promise<void>} */
export const deleteLay = (id) => call("DELETE", `/lays/${encodeURIComponent(id)}`);

/** @param {string} [styleId] @returns {Promise<LaySummary[]>} */
export const listLays = async (styleId) =>
  (await /** @type {Promise<{lays: LaySummary[]}>} */ (
    call("GET", `/lays${styleId ? `?style=${encodeURIComponent(styleId)}` : ""}`)
  )).lays;

/**
 * Follow a lay while it is searched. The browser reconnects by itself; the service then sends the
 * full state first.
 * @param {string} id
 * @param {{cloth: (result: ClothResult) => void, state: (state: LayDetail["state"]) => void, lost: (lost: boolean) => void}} on
 * @returns {() => void} stops following
 */
export function followLay(id, on) {
  const source = new EventSource(`/api/lays/${encodeURIComponent(id)}/events`);
  source.addEventListener("open", () => on.lost(false));
  source.addEventListener("error", () => on.lost(true));
  source.addEventListener("cloth", (event) => on.cloth(JSON.parse(event.data)));
  source.addEventListener("state", (event) => {
    /** @type {LayDetail["state"]} */
    const state = JSON.parse(event.data).state;
    if (state === "done" || state === "stopped" || state === "failed") source.close();
    on.state(state);
  });
  return () => source.close();
}
