// A small drawing of one window for the hand: which piece is meant, and where it lies. Pure but for
// the elements it makes.

const SVG = "http://www.w3.org/2000/svg";

/** @typedef {import("../table/scene.js").Projection} Projection */

/**
 * @param {Projection} projection
 * @param {number} index  of the window
 * @param {string} current  key of the piece that is lit alone, or ""
 * @param {string[]} cut  keys of pieces already cut
 * @returns {SVGElement}
 */
export function drawWindow(projection, index, current, cut) {
  const window = projection.windows[index];
  const [x0, y0, x1, y1] = window.box;
  const svg = make("svg", { viewBox: `${x0} ${-y1} ${x1 - x0} ${y1 - y0}`, class: "sketch", role: "img", "aria-label": `Window ${index + 1}` });
  for (const key of [...window.whole, ...window.part.map((p) => p.key)]) {
    const piece = projection.pieces.find((p) => p.key === key);
    if (!piece) continue;
    const kind = key === current ? "now" : cut.includes(key) ? "gone" : "rest";
    svg.append(make("polygon", { points: piece.cut_line.map(([x, y]) => `${x.toFixed(1)},${(-y).toFixed(1)}`).join(" "), class: kind }));
  }
  return svg;
}

/** @param {string} tag @param {Record<string, string>} attributes */
function make(tag, attributes) {
  const made = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  return made;
}
