/**
 * What the parts of the pieces' page share (JSDoc types only, no code).
 */

/** @import {Context} from "../context.js" */
/** @import {StyleDetail} from "../wire.js" */

/**
 * @typedef {object} Desk
 * @property {Context} context
 * @property {() => boolean} busy
 * @property {(work: () => Promise<void>) => Promise<void>} attempt says what failed
 * @property {(style: StyleDetail) => Promise<void>} show a style that has come in or changed
 */

export {};
