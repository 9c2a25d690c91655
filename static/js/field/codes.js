/* A field for a tag: typed, scanned by the camera, or scanned by a hand scanner, which types fast and ends with
   Enter, whether the field has the focus or nothing has. */

import { copy } from "./dom.js";
import { scan } from "./scan.js";
import { cleanTag } from "./words.js";

// Signs further apart are no code any more. A busy tablet hears a fast scanner late, so it is generous.
const PAUSE_MS = 1500;
const SHORTEST = 4;
const WRITTEN_IN = "input:not([type=radio], [type=checkbox]), textarea, select, dialog";

let count = 0;

/* `onCode` gets the clean tag of a finished input (Enter or a scan), `onText` each change. */
export function codeField({ label, hint = "", keepsText = false, onCode, onText }) {
  const node = copy("code-field", { label, hint });
  const input = node.querySelector("input");
  count += 1;
  input.id = `code-${count}`;
  node.querySelector("label").htmlFor = input.id;
  if (!hint) node.querySelector(".hint").remove();
  const take = (code) => {
    if (!code) return;
    input.value = code;
    onCode(code);
  };
  input.addEventListener("input", () => onText?.(input.value));
  input.addEventListener("keydown", (event) => {
    if (event.key !== "Enter") return;
    event.preventDefault();
    take(keepsText ? input.value.trim() : cleanTag(input.value));
  });
  node.querySelector("[data-camera]").addEventListener("click", async () => take(await byCamera()));
  return { node, input, take, value: () => cleanTag(input.value) };
}

/* The scanning panel lies over the page, so that nothing else is tapped by mistake. */
export async function byCamera() {
  const dialog = document.getElementById("scanner");
  const host = dialog.querySelector("[data-scanner]");
  const giveUp = () => host.querySelector("[data-scan=back]")?.click();
  dialog.addEventListener("cancel", giveUp, { once: true });
  dialog.showModal();
  try {
    return await scan(host);
  } finally {
    dialog.removeEventListener("cancel", giveUp);
    dialog.close();
  }
}

/* A scanner that types while no field has the focus. */
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
