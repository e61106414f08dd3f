/**
 * The trade's words in two sets, UK and US. Texts of the desk use UK words; `say` turns them.
 */

/** @typedef {"uk" | "us"} Words */

/** UK word to US word; both lower case. */
const US = Object.freeze(
  /** @type {const} */ ([
    ["selvedge", "selvage"],
    ["calico", "muslin"],
    ["waistcoat", "vest"],
    ["trousers", "pants"],
    ["turn-up", "cuff"],
    ["centre", "center"],
    ["metre", "meter"],
    ["centimetre", "centimeter"],
    ["millimetre", "millimeter"],
    ["grey", "gray"],
    ["colour", "color"],
  ]),
);

/**
 * A text in the chosen set of words. Names that a person gave are never passed through here.
 * @param {string} text UK words
 * @param {Words} words
 */
export function say(text, words) {
  if (words === "uk") return text;
  return US.reduce(
    (t, [uk, us]) => t.replace(new RegExp(`\\b(${uk})`, "gi"), (found) => like(found, us)),
    text,
  );
}

/** `us` with a capital where the found word had one. @param {string} found @param {string} us */
const like = (found, us) => (found[0] === found[0].toUpperCase() ? us[0].toUpperCase() + us.slice(1) : us);
