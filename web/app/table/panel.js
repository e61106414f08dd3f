// The one panel of the table pages: cautions, keys, settings, choices. Never over what is lit to cut by.

import { CAUTIONS, DEFER } from "./wording.js";

/**
 * @param {string} tag
 * @param {Record<string, string | boolean | ((event: any) => void)>} [attributes]  a function = listener
 * @param {(Node | string)[]} children
 * @returns {HTMLElement}
 */
export function element(tag, attributes = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (typeof value === "function") made.addEventListener(name, value);
    else if (value === true) made.setAttribute(name, "");
    else if (value !== false) made.setAttribute(name, value);
  }
  made.append(...children);
  return made;
}

/**
 * A panel over the page: shown, it takes the focus; closed, it gives it back.
 * @param {HTMLElement} panel
 */
export function makePanel(panel) {
  let name = "";
  return {
    /** Which panel is open, "" for none. */
    get name() {
      return name;
    },
    /** @param {string} which @param {(Node | string)[]} content */
    show(which, ...content) {
      const fresh = which !== name;
      name = which;
      panel.hidden = false;
      panel.replaceChildren(...content);
      if (fresh) panel.focus();
    },
    close() {
      name = "";
      panel.hidden = true;
      panel.replaceChildren();
    },
  };
}

/** @param {string} title */
export function heading(title) {
  return element("h2", { id: "panel-title" }, title);
}

/** The usual cautions. @param {() => void} read */
export function cautions(read) {
  return [
    heading("Before the light goes on"),
    element("ul", {}, ...CAUTIONS.map((c) => element("li", {}, c))),
    element("p", {}, element("strong", {}, DEFER)),
    element("div", { class: "actions" }, element("button", { class: "main", click: read }, "Read and understood")),
  ];
}

/** What went wrong, in the words of the service. @param {{message: string, hint?: string}} error */
export function wrong({ message, hint = "" }) {
  const first = message.charAt(0).toUpperCase() + message.slice(1);
  return element("div", { class: "wrong", role: "alert" }, element("strong", {}, first), hint);
}

const DAY = "grainfold.cautions";

/** Were the cautions read today, on this machine? */
export function cautionsRead() {
  return localStorage.getItem(DAY) === today();
}

export function keepCautionsRead() {
  localStorage.setItem(DAY, today());
}

function today() {
  const now = new Date();
  return `${now.getFullYear()}-${now.getMonth() + 1}-${now.getDate()}`;
}
