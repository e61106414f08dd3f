/**
 * Table: what it takes to light the layout at true size on the cutting table, and the way there.
 */

/** @import {Context, Page} from "./context.js" */
import { html, nothing } from "../vendor/lit-html/lit-html.js";
import { ApiError, call, getLay, listLays } from "./api.js";
import { trouble, troubleView } from "./context.js";
import { cuttingPart } from "./cutting_part.js";
import { routeHash } from "./state.js";

/** @typedef {{name: string, verdict_text: string, p95_mm: number | null, created: string}} CurrentMap */

/** @typedef {{url: string, qr: string, expires: string}} Invite a way in for one phone, good once */

/** @typedef {{id: string, name: string, expires: string}} Device a phone that was let in */

/** So often it is asked whether the code was used, ms. */
const USED_EVERY = 2000;

/** @param {Context} context @returns {Page} */
export function tablePage(context) {
  /** @type {Invite | null} */
  let invite = null;
  /** @type {import("./context.js").Trouble | null} */
  let noInvite = null;
  /** @type {CurrentMap | null} */
  let map = null;
  /** @type {import("./wire.js").LayDetail | null} */
  let lay = null;
  /** @type {Device[]} */
  let devices = [];
  let timer = 0;
  const cutting = cuttingPart(() => context.paint());

  async function askDevices() {
    const found = await orNothing(/** @type {Promise<{devices: Device[]}>} */ (call("GET", "/devices")));
    devices = found?.devices ?? [];
  }

  /** The code is good once: it goes as soon as a phone has come in by it. */
  async function watchCode() {
    const before = devices.map((d) => d.id);
    try {
      await askDevices();
    } catch {
      // The service is away: ask again.
    }
    if (devices.some((d) => !before.includes(d.id))) invite = null;
    if (invite) timer = window.setTimeout(() => void watchCode(), USED_EVERY);
    context.paint();
  }

  /** @param {Device} device */
  async function sendAway(device) {
    try {
      await call("DELETE", `/devices/${encodeURIComponent(device.id)}`);
      noInvite = null;
      await askDevices();
    } catch (error) {
      noInvite = trouble(error);
    }
    context.paint();
  }

  async function showCode() {
    invite = null;
    noInvite = null;
    clearTimeout(timer);
    try {
      await askDevices();
      invite = /** @type {Invite} */ (await call("POST", "/devices/invites", { name: `phone ${devices.length + 1}` }));
      timer = window.setTimeout(() => void watchCode(), USED_EVERY);
    } catch (error) {
      noInvite = trouble(error);
    }
    context.paint();
  }

  return {
    title: "Table",

    async open(route) {
      map = await orNothing(/** @type {Promise<CurrentMap>} */ (call("GET", "/maps/current")));
      const id = route.lay ?? context.lastLay ?? (await listLays())[0]?.id;
      lay = id ? await orNothing(getLay(id)) : null;
      await Promise.all([cutting.follow(lay), askDevices()]);
    },

    close() {
      clearTimeout(timer);
      invite = null;
      cutting.leave();
    },

    view() {
      const cloths = lay?.cloths ?? [];
      return html`<div class="table-page">
        <h1>On the table, at true size</h1>
        <ol class="table-steps">
          <li>
            <h2>Measure the table</h2>
            <p class="measure">The projector lights four crosses on the cloth's surface. You measure the distances between them with a tape, sides and diagonals, and type them in; from that the picture is made true.</p>
            ${map
              ? html`<p class="say">In use: <b>${map.name}</b>, measured ${new Date(map.created).toLocaleDateString(document.documentElement.lang)}. ${map.verdict_text}</p>`
              : html`<p class="say warning">No table is measured yet: nothing can be lit at true size.</p>`}
            <p><a class=${map ? "button" : "button first"} href="/calibrate">${map ? "Measure it again" : "Measure the table"}</a></p>
          </li>
          <li>
            <h2>Light the layout</h2>
            <p class="measure">The layout fills the screen that the projector shows. Check the 600 mm line with your own tape first, every time: a knocked projector looks just as sharp as a true one.</p>
            ${!lay
              ? html`<p class="say warning">There is no layout yet. <a href=${routeHash({ page: "cloth", style: context.style?.id })}>Lay one out first.</a></p>`
              : html`<p class="row">${cloths.map(
                  (c) => html`<a class=${map ? "button first" : "button"} href=${`/table?lay=${encodeURIComponent(/** @type {any} */ (lay).id)}&cloth=${encodeURIComponent(c.cloth)}`}>Light ${lay?.style}, ${c.cloth}</a>`,
                )}</p>`}
          </li>
          <li>
            <h2>See how far the cutting is</h2>
            <p class="measure">What is marked at the table or on the phone shows here at once.</p>
            ${cutting.view()}
          </li>
          <li>
            <h2>Take a phone in your hand</h2>
            <p class="measure">A phone on the same network steps the pieces and marks what is cut, while the table follows. It comes in by a code that is good once; the network carries it unencrypted, so use one that you trust.</p>
            <p><button type="button" class="button" @click=${showCode}>Show a code for a phone</button></p>
            ${invite
              ? html`<p><img src=${invite.qr} alt="Code to scan with the phone; the address is below" width="220" height="220"></p>
                  <p class="say">Or type: <code>${invite.url}</code></p>`
              : troubleView(noInvite)}
            ${devices.length
              ? html`<ul class="devices" aria-label="Phones that were let in">${devices.map(
                  (d) => html`<li>${d.name}, until ${new Date(d.expires).toLocaleTimeString(document.documentElement.lang, { hour: "2-digit", minute: "2-digit" })}
                    <button type="button" class="button" aria-label=${`Send ${d.name} away`} @click=${() => sendAway(d)}>Send away</button></li>`,
                )}</ul>`
              : nothing}
          </li>
          <li>
            <h2>Before you cut</h2>
            <ul class="cautions measure">
              <li>Keep your back to the beam and don't look into the lens.</li>
              <li>Keep enough light on the blades: if the lines can only be seen in the dark, make them bolder instead.</li>
              <li>Hang nothing over people that has no second tether, and lay cables where nobody walks.</li>
              <li>Your workroom's rules and the makers' instructions for projector, mount and blades come before anything said here.</li>
            </ul>
          </li>
        </ol>
      </div>`;
    },
  };
}

/** What is there, or null where the service says that there is none. @template T @param {Promise<T>} answer @returns {Promise<T | null>} */
async function orNothing(answer) {
  try {
    return await answer;
  } catch (error) {
    if (error instanceof ApiError && error.status === 404) return null;
    throw error;
  }
}
