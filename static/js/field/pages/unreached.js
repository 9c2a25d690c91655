/* The door could not be reached: why, in as few taps as there are usual reasons. */

import { button, choices, chosen, copy, tell } from "../dom.js";
import { linesAt } from "../world.js";
import { finish } from "./acts.js";

const REASONS = [
  "Locked, and nobody to open it", "The room is in use", "Building work in the way", "Somebody asked me to come back later",
];
const OTHER = "other";

export function unreachedPage(app, id) {
  const line = app.world.lines.get(id);
  const door = line && app.world.doors.get(line.door);
  if (!door || line.state !== "open") return null;
  const rows = [...REASONS.map((reason) => [reason, reason]), [OTHER, "Another reason, typed below"]];
  const form = copy("unreached", { choices: choices("reason", rows), note: copy("note", { label: "More words" }) });
  const write = () => submit(app, form, door);
  form.addEventListener("submit", (event) => { event.preventDefault(); write(); });
  return {
    title: `${door.number} not reached`, sub: `${line.order.kind_label}, order ${line.order.number}`,
    back: `#/door/${door.id}`, backWords: door.number, body: [form], isForm: true,
    acts: [button("Write it down", "button-primary", write)],
  };
}

async function submit(app, form, door) {
  const words = form.querySelector("[data-note]").value.trim();
  const choice = chosen(form, "reason");
  const reason = [choice === OTHER ? "" : choice, words].filter(Boolean).join(": ");
  if (!reason) return tell(form, ["Tap a reason, or type one."]);
  // Whoever does not get to a door does nothing of what is due there.
  const lines = linesAt(app.world, door).filter((each) => each.state === "open");
  const acts = lines.map(({ id }) => ({ kind: "unreached", body: { line: id, reason: reason.slice(0, 400) } }));
  return finish(app, form, acts, `#/door/${door.id}`);
}
