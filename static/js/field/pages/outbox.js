/* The outbox: what waits, what the server said of the rest, and the way by hand. */

import { button, copy, tag } from "../dom.js";
import { envelopes, isUnsent, toSettle } from "../outbox.js";
import { age, clock, counted, grouped, PLACES, zoned } from "../words.js";
import { doorName } from "../world.js";

const OUTCOMES = {
  applied: ["Taken", "tag-good"], duplicate: ["Taken", "tag-good"],
  accepted_with_conflict: ["To be settled", "tag-warn"], rejected: ["Not taken", "tag-bad"],
};

export function outboxPage(app) {
  const unsent = app.records.filter(isUnsent);
  const refused = app.photos.filter((photo) => photo.refused);
  const body = copy("outbox", {
    unsent: String(unsent.length),
    oldest: unsent.length ? age(Date.now() - Date.parse(unsent[0].event.claimed_at)) : "–",
    toSettle: String(app.records.filter(toSettle).length),
    words: words(app, unsent),
    rows: [...app.records].reverse().map((record) => row(record, app.world)).concat(refused.map(photoRow)),
  });
  const toFile = body.querySelector("[data-export]");
  toFile.disabled = unsent.length === 0;
  toFile.addEventListener("click", () => exportAll(unsent));
  return { title: "Outbox", body: [body], acts: [button("Send now", "button-primary", () => app.round({ wantsPack: true }))] };
}

function words(app, unsent) {
  const photos = app.photos.filter((photo) => !photo.refused).length;
  const waiting = photos ? ` ${counted(photos, "photo")} on the way.` : "";
  if (!unsent.length) return `Everything you wrote down was sent.${waiting}`;
  const why = { away: "There is no network.", "signed-out": "Nobody is signed in.", odd: app.trouble }[app.reach] ?? "";
  return `${counted(unsent.length, "act is", "acts are")} kept on this tablet and not sent yet. ${why}${waiting}`;
}

function row(record, world) {
  const { answer, event } = record;
  const [said, tone] = answer ? OUTCOMES[answer.first_outcome ?? answer.outcome] ?? OUTCOMES[answer.outcome] : ["Not sent", "tag-wait"];
  return copy("record", {
    what: sentenceOf(event, world),
    when: `Written ${clock(event.claimed_at)}${answer ? `, answered ${clock(answer.at)}` : ""}, number ${event.sequence}`,
    reason: toSettle(record) ? answer.reason : "",
    case: answer?.case, tags: tag(said, tone),
  });
}

function photoRow(photo) {
  return copy("record", { what: "A photo", when: "", reason: photo.refused, tags: tag("Not taken", "tag-bad") });
}

/* One act in words; a door that is not on the tablet any more stays nameless. */
export function sentenceOf({ kind, body }, world) {
  const at = placeOf(body, world);
  switch (kind) {
    case "swapped": return `Swap${at}: ${grouped(body.core_in)} in${body.core_out ? `, ${grouped(body.core_out)} out` : ""}`;
    case "put": return `Core ${grouped(body.core)} ${PLACES[body.place]}`;
    case "found": return `Found${at}: ${grouped(body.core) || "no core"}`;
    case "unreached": return `Not reached${at}: ${body.reason}`;
    case "checked": return `Checklist${at}`;
    case "noted": return `Note${at}: ${body.text}`;
    default: return `Photo${at}`;
  }
}

function placeOf(body, world) {
  const door = world?.housings.get(body.housing)?.door ?? world?.doors.get(body.door ?? world.lines.get(body.line)?.door);
  return door ? ` at ${doorName(door)}` : "";
}

function exportAll(unsent) {
  const now = new Date();
  for (const envelope of envelopes(unsent, now)) {
    const file = new Blob([JSON.stringify(envelope, null, 1)], { type: "application/json" });
    const link = document.createElement("a");
    link.href = URL.createObjectURL(file);
    link.download = `keyctl-field-${zoned(now).slice(0, 16).replace(/[:T]/g, "-")}-${envelope.device.slice(0, 8)}.json`;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
  }
}
