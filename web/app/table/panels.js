// The panels that a key opens over the light: chalk, cloth, ledger, settings, keys.

import { clothPanel } from "./cloth.js";
import { ledgerPanel } from "./ledger.js";
import { asItLies, crossPlaces, registrationPanel } from "./registration.js";
import { keysPanel, settingsPanel } from "./settings.js";
import { checkedWords } from "./trust.js";
import { currentStop } from "./steps.js";

/** @typedef {{message: string, hint?: string}} Why */

/**
 * @param {object} page
 * @param {ReturnType<typeof import("./panel.js").makePanel>} page.panel
 * @param {() => ReturnType<typeof import("./session.js").followCutting> | null} page.session
 * @param {() => (import("./scene.js").Projection & {map: import("./trust.js").MapDetail}) | null} page.projection
 * @param {() => import("./draw.js").State} page.state
 * @param {(change: Partial<import("./prefs.js").Prefs>) => void} page.setPrefs
 * @param {() => void} page.repair  opens the panel for things gone wrong
 */
export function makePanels({ panel, session, projection, state, setPrefs, repair }) {
  /** Ask where the chalk lies; only while its crosses are lit. @param {Why | null} [refusal] */
  function registration(refusal = null) {
    const [shown, following] = [projection(), session()];
    const { walk, registered, prefs } = state();
    if (!shown || !following || currentStop(walk, shown)?.kind !== "along") return;
    const window = shown.windows[walk.window];
    const lit = asItLies(window, registered);
    const crosses = shown.windows[walk.window - 1].crosses;
    panel.show("registration", ...registrationPanel(crosses.length, (offsets) => {
      // Offsets are read from the light as it stands; the motion kept is from the window's own place.
      const { chalked } = crossPlaces(crosses, lit, offsets, prefs.turned);
      const from = crossPlaces(crosses, window, offsets, false).lit;
      void following.send("registration", { window: window.index, map_id: shown.map.id, lit: from, chalked }).then((why) => {
        if (why) registration(why);
        else panel.close();
      });
    }, panel.close, refusal));
    document.getElementById("off-P-x")?.focus();
  }

  /** @param {Why | null} [refusal] */
  function cloth(refusal = null) {
    const following = session();
    if (!following) return;
    panel.show("cloth", ...clothPanel(following.now.measured, (wish) => {
      void following.send("cloth", wish).then((why) => cloth(why));
    }, panel.close, refusal));
    document.getElementById("cloth-l1")?.focus();
  }

  /** @param {Why | null} [refusal]  of the last mark */
  function ledger(refusal = null) {
    const [shown, following] = [projection(), session()];
    if (!shown || !following) return;
    const held = document.activeElement?.id ?? "";
    const pieces = shown.order.flatMap((key) => shown.pieces.filter((p) => p.key === key));
    panel.show("ledger", ...ledgerPanel(following.now, pieces, (what, key, hand) => void following.mark(what, key, hand), refusal, panel.close, repair));
    // Drawn again after each mark: the hand stays where it was, or on what took its place.
    (document.getElementById(held) ?? document.getElementById(held.replace("mark-", "back-").replace(/^spoiled-(.*)-(drawn|turned)$/, "back-$1")))?.focus();
  }

  function settings() {
    const held = document.activeElement?.id ?? "";
    const shown = projection();
    panel.show("settings", ...settingsPanel(state().prefs, setPrefs, panel.close, shown ? checkedWords(shown.map) : ""));
    // Redrawn after each change: the hand stays on the control it was on.
    if (held.startsWith("set-")) document.getElementById(held)?.focus();
  }

  function keys() {
    panel.show("keys", ...keysPanel(panel.close));
  }

  /** Open a panel, or close it if it is open. @param {string} name @param {() => void} open */
  function toggle(name, open) {
    if (panel.name === name) panel.close();
    else open();
  }

  return { registration, cloth, ledger, settings, keys, toggle };
}
