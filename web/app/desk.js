/**
 * The desk: finds the page for the address, gives it what it needs, and paints it under the stations.
 */

/** @import {Context, Page} from "./context.js" */
/** @import {PageName, Route} from "./state.js" */
/** @import {System} from "./units.js" */
/** @import {Words} from "./words.js" */
import { html, nothing, render } from "../vendor/lit-html/lit-html.js";
import { health, listStyles } from "./api.js";
import { choiceBlank, Troubles } from "./blanks.js";
import { trouble, troubleView } from "./context.js";
import { buyPage } from "./page_buy.js";
import { clothPage } from "./page_cloth.js";
import { layoutPage } from "./page_layout.js";
import { piecePage } from "./page_piece.js";
import { piecesPage } from "./page_pieces.js";
import { tablePage } from "./page_table.js";
import { readHabits, readLast, writeHabits, writeLast } from "./prefs.js";
import { parseRoute, routeHash } from "./state.js";
import { showClothLength, showLength } from "./units.js";
import { say } from "./words.js";

const root = /** @type {HTMLElement} */ (document.getElementById("desk"));
const liveRegion = /** @type {HTMLElement} */ (document.getElementById("live"));

/** @type {Route} */
let route = parseRoute(location.hash);
/** @type {Page} */
let page;
/** @type {import("./context.js").Trouble | null} */
let failed = null;
let engineText = "";
let queued = false;

const habits = readHabits();
const last = readLast();

/** @type {Context} */
const context = {
  get system() {
    return habits.system;
  },
  get words() {
    return habits.words;
  },
  say: (text) => say(text, habits.words),
  len: (mm) => showLength(mm, habits.system),
  clothLen: (mm) => showClothLength(mm, habits.system),
  paint,
  announce: (text) => {
    if (liveRegion.textContent !== text) liveRegion.textContent = text;
  },
  go: (next) => {
    location.hash = routeHash(next);
  },
  troubles: new Troubles(paint),
  styles: [],
  style: null,
  keepStyle: (style) => {
    context.style = style;
    last.style = style.id;
    writeLast(last);
  },
  refreshStyles: async () => {
    context.styles = await listStyles();
  },
  get lastLay() {
    return last.lay;
  },
  keepLay: (id) => {
    last.lay = id;
    writeLast(last);
  },
};

/** @type {Record<PageName, Page>} */
const pages = {
  pieces: piecesPage(context),
  piece: piecePage(context),
  cloth: clothPage(context),
  layout: layoutPage(context),
  buy: buyPage(context),
  table: tablePage(context),
};

/** @type {readonly [PageName, string][]} */
const STATIONS = [
  ["pieces", "Pieces"],
  ["cloth", "Cloth"],
  ["layout", "Layout"],
  ["buy", "Buy"],
  ["table", "Table"],
];

/** Where a station leads: to the style or lay last looked at. @param {PageName} name @returns {Route} */
function stationRoute(name) {
  if (name === "pieces" || name === "cloth") return { page: name, style: context.style?.id ?? last.style };
  return { page: name, lay: last.lay };
}

function paint() {
  if (queued) return;
  queued = true;
  requestAnimationFrame(() => {
    queued = false;
    render(shell(), root);
    document.title = `${page.title} · grainfold`;
  });
}

function shell() {
  const here = route.page === "piece" ? "pieces" : route.page;
  return html`
    <a class="skip" href="#main" @click=${skip}>To the drawing</a>
    <header class="head">
      <a class="brand" href="#/pieces">grainfold</a>
      <nav class="stations" aria-label="The job, in order">
        ${STATIONS.map(
          ([name, text]) =>
            html`<a href=${routeHash(stationRoute(name))} aria-current=${name === here ? "page" : nothing}>${text}</a>`,
        )}
      </nav>
      <div class="habits">
        <span>${choiceBlank({
          id: "habit-system",
          label: "Units",
          value: habits.system,
          options: /** @type {[System, string][]} */ ([["metric", context.say("cm and metres")], ["imperial", "inches and yards"]]),
          onChange: (value) => setHabit({ system: value }),
        })}</span>
        <span>${choiceBlank({
          id: "habit-words",
          label: "Words",
          value: habits.words,
          options: /** @type {[Words, string][]} */ ([["uk", "UK words"], ["us", "US words"]]),
          onChange: (value) => setHabit({ words: value }),
        })}</span>
      </div>
    </header>
    <main id="main" tabindex="-1">
      ${engineText ? html`<p class="say engine" role="status">${engineText}</p>` : nothing}
      ${failed ? html`<h1>${page.title}</h1>${troubleView(failed)}` : page.view()}
    </main>
  `;
}

/** @param {Event} event */
function skip(event) {
  event.preventDefault();
  document.getElementById("main")?.focus();
}

/** @param {{system?: System, words?: Words}} change */
function setHabit(change) {
  Object.assign(habits, change);
  document.documentElement.lang = habits.words === "us" ? "en-US" : "en-GB";
  writeHabits(habits);
  paint();
}

async function openPage() {
  const before = page;
  const next = parseRoute(location.hash);
  const moved = !page || next.page !== route.page;
  route = next;
  page = pages[route.page];
  if (before && before !== page) before.close?.();
  failed = null;
  context.troubles.known.clear();
  paint();
  try {
    await page.open(route);
  } catch (error) {
    failed = trouble(error);
  }
  paint();
  if (moved && before) {
    window.scrollTo(0, 0);
    document.getElementById("main")?.focus({ preventScroll: true });
  }
}

/** Ask how far the engine is until it is ready; the first start compiles. */
async function watchEngine() {
  try {
    const now = await health();
    engineText = now.engine.state === "ready" ? "" : now.engine.text;
    paint();
    if (engineText) setTimeout(watchEngine, 2000);
  } catch {
    engineText = "";
  }
}

document.documentElement.lang = habits.words === "us" ? "en-US" : "en-GB";
window.addEventListener("hashchange", openPage);
window.addEventListener("resize", paint);
document.addEventListener("keydown", (event) => page?.key?.(event));
openPage();
watchEngine();
