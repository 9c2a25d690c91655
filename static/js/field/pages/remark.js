/* A note or a photo of a door. */

import { button, copy, tell } from "../dom.js";
import { gettext, interpolate } from "../say.js";
import { linesAt } from "../world.js";
import { finish, photoField } from "./acts.js";

export function remarkPage(app, id) {
  const door = app.world.doors.get(id);
  if (!door) return null;
  const photo = photoField();
  const form = copy("remark", { photo: photo.node });
  const write = () => submit(app, form, door, photo);
  form.addEventListener("submit", (event) => { event.preventDefault(); write(); });
  return {
    title: interpolate(gettext("Note at %(door)s"), { door: door.number }), sub: door.name, back: `#/door/${door.id}`, backWords: door.number,
    body: [form], isForm: true, acts: [button(gettext("Keep it"), "button-primary", write)],
  };
}

async function submit(app, form, door, photo) {
  const text = form.querySelector("[data-text-field]").value.trim();
  const line = linesAt(app.world, door).find((each) => each.state === "open")?.id ?? null;
  const photos = photo.acts({ door: door.id, line }, text.slice(0, 200));
  const notes = text ? [{ kind: "noted", body: { door: door.id, line, text } }] : [];
  if (!notes.length && !photos.length) return tell(form, [gettext("Type a note, or take a photo.")]);
  return finish(app, form, [...notes, ...photos], `#/door/${door.id}`);
}
