/* What every form does at its end: write its acts into the outbox, say so, go back, and try to send. */

import { copy, tell } from "../dom.js";
import { append } from "../outbox.js";
import { CAUTION, takePhoto } from "../photo.js";
import { gettext, interpolate } from "../say.js";

/* `acts` is a list for the outbox. Nothing is shown as done before it is kept. */
export async function finish(app, form, acts, back) {
  if (form.dataset.isWriting) return;
  form.dataset.isWriting = "yes";
  try {
    await append(acts);
  } catch (fault) {
    tell(form, [fault.message]);
    return;
  } finally {
    delete form.dataset.isWriting;
  }
  await app.changed();
  // Whoever went on to another page meanwhile stays there.
  if (form.isConnected) app.go(back);
  app.round();
}

/* A photo beside a form: made small at once, written with the form's acts. */
export function photoField() {
  const node = copy("photo");
  const [input, state, error] = ["[data-photo]", "[data-photo-state]", "[data-photo-error]"].map((name) => node.querySelector(name));
  let taken = null;
  node.querySelector("[data-photo-caution]").textContent = CAUTION;
  input.addEventListener("change", async () => {
    taken = null;
    error.hidden = true;
    state.textContent = input.files.length ? gettext("Making it small…") : "";
    if (!input.files.length) return;
    try {
      taken = await takePhoto(input.files[0]);
      state.textContent = interpolate(gettext("Ready, %(size)s kB. It is kept with what you write down here."), { size: Math.round(taken.blob.size / 1024) });
    } catch (fault) {
      state.textContent = "";
      error.hidden = false;
      error.textContent = fault.message;
    }
  });
  return { node, acts: (place, caption) => (taken ? [photographed(taken, place, caption)] : []) };
}

function photographed({ blob, sha256 }, { door, line = null }, caption) {
  const photo = crypto.randomUUID();
  return { kind: "photographed", body: { door, line, photo, sha256, caption }, photo: { photo, blob, sha256 } };
}
