/**
 * What the parts of a piece's page share (JSDoc types only, no code).
 */

/** @import {Context} from "../context.js" */
/** @import {PieceView, Sheet, StyleDetail} from "../wire.js" */

/**
 * @typedef {object} Hub
 * @property {Context} context
 * @property {() => StyleDetail} style
 * @property {() => PieceView} piece the one that is open
 * @property {() => number} picked index of the picked edge
 * @property {(index: number) => void} pick an edge, and go to its first blank
 * @property {(index: number) => void} touch an edge: picked, the focus stays
 * @property {() => boolean} busy
 * @property {(change: (sheet: Sheet) => Sheet, said: string) => Promise<boolean>} edit sends a change of the sheet; whether it was kept
 * @property {(work: () => Promise<StyleDetail>, said: string) => Promise<boolean>} send
 */

export {};
