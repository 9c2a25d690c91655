/* A hand scanner types fast and ends with Enter. */

import { cleanTag } from "./words.js";

// Signs further apart are no code any more. A busy tablet hears a fast scanner late, so it is generous.
const PAUSE_MS = 1500;
const SHORTEST = 4;
const WRITTEN_IN = "input:not([type=radio], [type=checkbox]), textarea, select, dialog";

/* One that types while no field has the focus. */
export function listenToScanner(onCode) {
  let signs = "";
  let last = 0;
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    if (event.target.closest?.(WRITTEN_IN)) return;
    if (event.timeStamp - last > PAUSE_MS) signs = "";
    last = event.timeStamp;
    if (event.key.length === 1) signs += event.key;
    if (event.key !== "Enter") return;
    const code = cleanTag(signs);
    signs = "";
    // Enter on a button is the button's, but for the one that ends a code.
    if (code.length < SHORTEST) return;
    event.preventDefault();
    onCode(code);
  }, true);
}
