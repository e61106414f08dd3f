/**
 * The shapes that travel between the service and the pages (JSDoc types only, no code).
 * Lengths are mm. PieceXY is the piece as drawn, y up; ClothXY the cloth frame, x along the selvedge
 * from the squared end, y across from the inner selvedge edge or the fold, y up.
 */

/** @typedef {[number, number]} XY */
/** @typedef {XY} PieceXY */
/** @typedef {XY} ClothXY */
/** @typedef {{code: string, message: string, hint?: string, where?: string, choices?: [string, string][]}} ApiErrorBody */
/** @typedef {{code: string, level: "note" | "fixed" | "warning" | "refused", message: string, where: string, hint: string}} Finding */
/** @typedef {{drawn: number, turned: number}} Count */
/** @typedef {"none" | "included" | "add"} AllowanceState */
/** @typedef {"seam" | "hem" | "fold" | "finished"} EdgeKind */

/** @typedef {{state: AllowanceState, width_mm: number, end_width_mm: number | null, steps: [number, number][]}} AllowanceView */
/** @typedef {{said: string, made: string, text: string, angle_deg: number, may: string[]}} CornerView how the cut line turns at an edge's end: as asked, as made, and why */

/**
 * @typedef {object} EdgeView
 * @property {string} name
 * @property {EdgeKind} kind
 * @property {AllowanceView} allowance
 * @property {number} inlay_mm
 * @property {number} length_mm
 * @property {PieceXY[]} points
 * @property {string} partner "piece/edge", a row with " + " between its edges, or empty
 * @property {string[]} partners the same edge by edge, in order along this one from its start
 * @property {string[]} run the edges that are sewn on as one, this one among them; empty: alone
 * @property {number} ease_mm
 * @property {string} pressed
 * @property {string[]} pressed_may
 * @property {number[]} folds_mm
 * @property {CornerView | null} corner at the edge's end; null while the piece cannot be cut
 */

/**
 * @typedef {object} PieceView
 * @property {string} name
 * @property {string} cloth
 * @property {Count} count
 * @property {boolean} on_fold
 * @property {string} count_text
 * @property {string} size_text
 * @property {{tail: PieceXY, head: PieceXY} | null} grain
 * @property {string} grain_rule
 * @property {"net" | "cut"} drawn_as
 * @property {EdgeView[]} edges
 * @property {PieceXY[] | null} cut_line
 * @property {PieceXY[] | null} net_line
 * @property {{at: PieceXY, tip: PieceXY, marks: number, name: string}[]} notches
 * @property {{kind: string, points: PieceXY[], name: string}[]} marks
 * @property {{name: string, first: PieceXY, second: PieceXY, point: PieceXY}[]} darts
 * @property {number | null} area_mm2
 * @property {Finding[]} findings
 */

/**
 * @typedef {object} Seam two sewing partners, edges or rows of edges, walked, see GET /api/styles/{id}/truing; both edges from (0, 0) to the x axis
 * @property {string} first "piece/edge"
 * @property {string} second
 * @property {boolean} turned_over
 * @property {number} first_mm sewn
 * @property {number} second_mm
 * @property {number} difference_mm first less second
 * @property {XY[]} first_line
 * @property {XY[]} second_line
 * @property {JoinView[]} first_joins where the edges of the first row meet
 * @property {JoinView[]} second_joins
 * @property {{name: string, first_mm: number | null, second_mm: number | null, miss_mm: number, first_at: XY | null, second_at: XY | null}[]} notches
 * @property {number} turn_at_start_deg
 * @property {number} turn_at_end_deg
 * @property {Finding[]} findings
 * @property {string[]} proposals
 * @property {Mend[]} mends
 */

/** @typedef {{before: string, after: string, at: XY, sewn_mm: number, turn_deg: number}} JoinView two edges of a row that meet */
/** @typedef {{piece: string, edge: string, text: string, line: PieceXY[], laid: XY[], change: Change}} Mend a drawn proposal; `laid` in the walk's frame */
/** @typedef {{kind: string} & Record<string, unknown>} Change of a piece, see POST /api/changes */

/**
 * @typedef {object} ChangeAnswer what a change would make; nothing is kept until the sheet is put
 * @property {string} text
 * @property {Sheet} sheet
 * @property {string[]} made
 * @property {string[]} gone
 * @property {string[]} touched
 * @property {PieceView[]} views
 * @property {Finding[]} findings
 */

/** @typedef {{line: string, below: number, body: number, ease: number, cloth?: string, leave_out?: readonly string[], count_in?: readonly string[]}} Measure mm */

/**
 * @typedef {object} Girth a garment's girth at a line against the body
 * @property {string} line
 * @property {number} below_mm
 * @property {string} cloth
 * @property {string} said
 * @property {number} body_mm
 * @property {number} ease_mm
 * @property {number} total_mm
 * @property {number} difference_mm
 * @property {{piece: string, mm: number}[]} parts
 * @property {{piece: string, why: string}[]} left_out
 * @property {string[]} leave_out as asked
 * @property {string[]} count_in as asked
 */

/** @typedef {{code: string, title: string, text: string, piece: PieceView, widths_mm: number[][], folded: PieceXY[][]}} Example one treatment, see GET /api/edges */

/** @typedef {Record<string, any>} Sheet a piece sheet, see /api/schema/piece-sheet */

/**
 * @typedef {object} StyleSummary
 * @property {string} id
 * @property {string} name
 * @property {string} note
 * @property {number} pieces
 * @property {string[]} cloths
 * @property {string} source
 * @property {string} updated
 * @property {number} revision
 */

/** @typedef {{id: string, readable: boolean, pieces_refused: number, pieces_to_see: number, seams_to_see: number, girths_to_see: number}} StyleLook how much of a style wants to be looked at */

/**
 * @typedef {object} StyleDetail
 * @property {string} id
 * @property {string} name
 * @property {string} note
 * @property {string} source
 * @property {Sheet} sheet
 * @property {PieceView[]} pieces
 * @property {Finding[]} findings
 * @property {number} revision
 * @property {boolean} can_undo
 * @property {boolean} can_redo
 */

/** @typedef {{id: string, x0: number, x1: number, y0: number, y1: number, plies: number, fold_edges: string[]}} Zone */
/** @typedef {{piece: string, drawn: number, turned: number}} Asked */
/** @typedef {{zone: string, kind: "flaw" | "missing", name: string, outline: ClothXY[]}} Lack a convex stretch that no piece touches */
/** @typedef {{fold: string, length_mm: number, utilisation: number, zones: Zone[], placements: Placement[], not_laid: Asked[], steps_text: string[], lacks: Lack[], text: string}} Held */

/**
 * @typedef {object} Placement
 * @property {string} piece
 * @property {number} copy
 * @property {string} zone
 * @property {number} plies
 * @property {boolean} on_fold
 * @property {string[]} hands
 * @property {boolean} turned_over
 * @property {number} turn_deg
 * @property {string} grain_rule
 * @property {ClothXY[]} grain
 * @property {ClothXY[]} cut_line
 * @property {ClothXY[]} net_line
 * @property {{at: ClothXY, tip: ClothXY, marks: number}[]} [notches]
 * @property {{kind: string, points: ClothXY[], name: string}[]} [marks]
 */

/** @typedef {{seconds: number, steps: number, length_mm: number}} Moment */

/**
 * @typedef {object} ClothResult
 * @property {string} cloth
 * @property {string} fold
 * @property {boolean} nap
 * @property {number} usable_width_mm
 * @property {number} selvedge_mm
 * @property {number} end_allowance_mm
 * @property {number} length_mm
 * @property {number} floor_mm
 * @property {number} buy_mm
 * @property {string} buy_text
 * @property {number | null} price
 * @property {string} currency
 * @property {number} need_mm
 * @property {{code: string, label: string, mm: number, total_mm: number}[]} terms
 * @property {number} floor_buy_mm
 * @property {number} utilisation
 * @property {boolean | null} fits
 * @property {string} fits_text
 * @property {number | null} slack_mm
 * @property {number | null} shortage_mm
 * @property {string | null} blocking_piece
 * @property {number | null} [room_mm] of cloth that is there, between its squared ends along the near selvedge
 * @property {number | null} [far_room_mm] along the far one, where the end is slanted
 * @property {Lack[]} [lacks] flaws and missing cloth, zone by zone
 * @property {Held | null} [held] what goes on cloth that is too short for all
 * @property {Zone[]} zones
 * @property {Asked[]} asked
 * @property {Placement[]} placements
 * @property {Asked[]} not_laid
 * @property {string[]} steps_text
 * @property {Finding[]} [findings] what this lay cannot do, such as seams that cannot match
 * @property {Moment[]} history
 * @property {boolean} searching
 * @property {{fold: string, fold_depth_mm?: number | null, length_mm: number, buy_mm: number, buy_text: string}[]} tried
 */

/**
 * @typedef {object} LayDetail
 * @property {string} id
 * @property {string} style_id
 * @property {string} style
 * @property {"queued" | "searching" | "done" | "stopped" | "failed"} state
 * @property {LayRequest} request
 * @property {ApiErrorBody | null} error
 * @property {ClothResult[]} cloths
 */

/**
 * @typedef {object} LaySummary
 * @property {string} id
 * @property {string} style_id
 * @property {string} style
 * @property {string} state
 * @property {string} created
 * @property {{cloth: string, length_mm: number, buy_text: string}[]} summary
 */

/** @typedef {{along_from: number, along_to: number, across_from: number, across_to: number | null, margin: number}} SpotRequest by the tape, mm from the raw end and the near selvedge's edge */

/**
 * @typedef {object} ClothRequest what one cloth of a lay is; lengths mm or a text with its unit
 * @property {number | string} width
 * @property {number | string | null} measured_width
 * @property {number | string} selvedge
 * @property {number} shrink_along
 * @property {number} shrink_across
 * @property {boolean} nap
 * @property {string} fold
 * @property {number | string} repeat_along
 * @property {number | string} repeat_across
 * @property {boolean} repeat_even
 * @property {number | string} end_allowance
 * @property {number | string | null} available
 * @property {number | string | null} far_length
 * @property {SpotRequest[]} flaws
 * @property {SpotRequest[]} missing
 * @property {number | null} price_per_m
 * @property {string} currency
 * @property {number | string} step
 * @property {"m" | "yd"} unit
 */

/**
 * @typedef {object} LayRequest
 * @property {string} style_id
 * @property {number} copies
 * @property {number} [seconds]
 * @property {number} [steps]
 * @property {number} [seed]
 * @property {number} [workers]
 * @property {number} [gap_mm]
 * @property {Record<string, Partial<ClothRequest>>} cloths
 */

export {};
