/**
 * Pieces: the styles, the pieces of the open one as drawings to one scale, and three ways to bring more.
 */

/** @import {Context, Page, Trouble} from "./context.js" */
/** @import {Desk} from "./pieces/desk.js" */
import { html } from "../vendor/lit-html/lit-html.js";
import { ApiError, getStyle } from "./api.js";
import { trouble, troubleView } from "./context.js";
import { bringPart } from "./pieces/bring.js";
import { panelForm } from "./pieces/panel_form.js";
import { styleList } from "./pieces/style_list.js";
import { wallPart } from "./pieces/wall.js";

/** @param {Context} context @returns {Page} */
export function piecesPage(context) {
  /** @type {Trouble | null} */
  let failed = null;
  let busy = false;

  /** @type {Desk} */
  const desk = {
    context,
    busy: () => busy,

    async attempt(work) {
      busy = true;
      failed = null;
      context.paint();
      try {
        await work();
      } catch (error) {
        failed = trouble(error);
      }
      busy = false;
      context.paint();
    },

    async show(style) {
      context.keepStyle(style);
      await context.refreshStyles();
      context.announce(`${style.name}: ${style.pieces.length} pieces.`);
      context.go({ page: "pieces", style: style.id });
    },
  };
  const bring = bringPart(desk);
  const panel = panelForm(desk);
  const wall = wallPart(desk);
  const list = styleList(context);

  return {
    title: "Pieces",

    async open(route) {
      await context.refreshStyles();
      const id = route.style ?? context.style?.id ?? context.styles[0]?.id;
      if (!id) {
        context.style = null;
        return;
      }
      if (context.style?.id === id) return;
      try {
        context.keepStyle(await getStyle(id));
      } catch (error) {
        context.style = null;
        if (route.style && !(error instanceof ApiError && error.status === 404)) throw error;
        const first = context.styles[0]?.id;
        if (first) context.keepStyle(await getStyle(first));
      }
    },

    view() {
      const style = context.style;
      return html`<div class="pieces-page">
        <aside class="styles" aria-label="Styles">
          <h2>Styles</h2>
          ${list.view()}
          ${bring.view(panel.button())}
        </aside>
        <div class="wall-side">
          ${troubleView(failed)} ${bring.askView()} ${panel.view()}
          ${style ? wall.view(style) : emptyView()}
        </div>
      </div>`;
    },
  };
}

const emptyView = () =>
  html`<h1>No pieces yet</h1>
    <p class="sentence measure">Drop a piece sheet or a drawing on the left, or type in a panel from the tape measure: a rectangle or a list of points is enough.</p>`;
