/* A field for a tag: typed, scanned by the camera, or scanned by a hand scanner, which types fast and ends with
   Enter, whether the field has the focus or nothing has. */

import { copy } from "./dom.js";
import { scan } from "./scan.js";
import { cleanTag } from "./words.js";

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
