/* The door could not be reached: why, in as few taps as there are usual reasons. */

import { button, choices, chosen, copy, tell } from "../dom.js";
import { gettext, interpolate } from "../say.js";
import { ofOrder } from "../words.js";
import { linesAt } from "../world.js";
import { finish } from "./acts.js";

const REASONS = [
  gettext("Locked, and nobody to open it"), gettext("The room is in use"), gettext("Building work in the way"), gettext("Somebody asked me to come back later"),
];
const OTHER = "other";

export function unreachedPage(app, id) {
  const line = app.world.lines.get(id);
  const door = line && app.world.doors.get(line.door);
  if (!door || line.state !== "open") return null;
  const rows = [...REASONS.map((reason) => [reason, reason]), [OTHER, gettext("Another reason, typed below")]];
  const form = copy("unreached", { choices: choices("reason", rows), note: copy("note", { label: gettext("More words") }) });
  const write = () => submit(app, form, door);
  form.addEventListener("submit", (event) => { event.preventDefault(); write(); });
  return {
    title: interpolate(gettext("%(door)s not reached"), { door: door.number }), sub: ofOrder(line.order.kind_label, line),
    back: `#/door/${door.id}`, backWords: door.number, body: [form], isForm: true,
    acts: [button(gettext("Write it down"), "button-primary", write)],
  };
}

async function submit(app, form, door) {
  const words = form.querySelector("[data-note]").value.trim();
  const choice = chosen(form, "reason");
  const reason = [choice === OTHER ? "" : choice, words].filter(Boolean).join(": ");
  if (!reason) return tell(form, [gettext("Tap a reason, or type one.")]);
  // Whoever does not get to a door does nothing of what is due there.
  const lines = linesAt(app.world, door).filter((each) => each.state === "open");
  const acts = lines.map(({ id }) => ({ kind: "unreached", body: { line: id, reason: reason.slice(0, 400) } }));
  return finish(app, form, acts, `#/door/${door.id}`);
}
