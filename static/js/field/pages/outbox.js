/* The outbox: what waits, what the server said of the rest, and the way by hand. */

import { button, copy, tag } from "../dom.js";
import { envelopes, isUnsent, toSettle } from "../outbox.js";
import { gettext, interpolate, ngettext } from "../say.js";
import { age, clock, grouped, PLACES, zoned } from "../words.js";
import { doorName } from "../world.js";

const OUTCOMES = {
  applied: [gettext("Taken"), "tag-good"], duplicate: [gettext("Taken"), "tag-good"],
  accepted_with_conflict: [gettext("To be settled"), "tag-warn"], rejected: [gettext("Not taken"), "tag-bad"],
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
  return { title: gettext("Outbox"), body: [body], acts: [button(gettext("Send now"), "button-primary", () => app.round({ wantsPack: true }))] };
}

function words(app, unsent) {
  const photos = app.photos.filter((photo) => !photo.refused).length;
  const waiting = photos && interpolate(ngettext("%(count)s photo on the way.", "%(count)s photos on the way.", photos), { count: photos });
  if (!unsent.length) return sentences(gettext("Everything you wrote down was sent."), waiting);
  const why = { away: gettext("There is no network."), "signed-out": gettext("Nobody is signed in."), odd: app.trouble }[app.reach] ?? "";
  const kept = interpolate(ngettext(
    "%(count)s act is kept on this tablet and not sent yet.", "%(count)s acts are kept on this tablet and not sent yet.", unsent.length,
  ), { count: unsent.length });
  return sentences(kept, why, waiting);
}

function sentences(...said) {
  return said.filter(Boolean).join(" ");
}

function row(record, world) {
  const { answer, event } = record;
  const [said, tone] = answer ? OUTCOMES[answer.first_outcome ?? answer.outcome] ?? OUTCOMES[answer.outcome] : [gettext("Not sent"), "tag-wait"];
  return copy("record", {
    what: sentenceOf(event, world),
    when: whenOf(event, answer),
    reason: toSettle(record) ? answer.reason : "",
    case: answer?.case, tags: tag(said, tone),
  });
}

function whenOf(event, answer) {
  const facts = { when: clock(event.claimed_at), answered: answer && clock(answer.at), number: event.sequence };
  const words = answer ? gettext("Written %(when)s, answered %(answered)s, number %(number)s") : gettext("Written %(when)s, number %(number)s");
  return interpolate(words, facts);
}

function photoRow(photo) {
  return copy("record", { what: gettext("A photo"), when: "", reason: photo.refused, tags: tag(gettext("Not taken"), "tag-bad") });
}

/* What was done, and where. */
const DONE = {
  swapped: [gettext("Swap"), gettext("Swap at %(door)s")],
  found: [gettext("Found"), gettext("Found at %(door)s")],
  unreached: [gettext("Not reached"), gettext("Not reached at %(door)s")],
  checked: [gettext("Checklist"), gettext("Checklist at %(door)s")],
  noted: [gettext("Note"), gettext("Note at %(door)s")],
  photographed: [gettext("Photo"), gettext("Photo at %(door)s")],
};

/* One act in words; a door that is not on the tablet any more stays nameless. */
export function sentenceOf({ kind, body }, world) {
  if (kind === "put") return interpolate(gettext("Core %(core)s %(place)s"), { core: grouped(body.core), place: PLACES[body.place] });
  const door = doorOf(body, world);
  const [done, doneAt] = DONE[kind] ?? DONE.photographed;
  const more = detailOf(kind, body);
  return (door ? interpolate(doneAt, { door: doorName(door) }) : done) + (more && `: ${more}`);
}

function detailOf(kind, body) {
  switch (kind) {
    case "swapped": return swapped(body);
    case "found": return grouped(body.core) || gettext("no core");
    case "unreached": return body.reason;
    case "noted": return body.text;
    default: return "";
  }
}

function swapped(body) {
  const words = body.core_out ? gettext("%(core)s in, %(out)s out") : gettext("%(core)s in");
  return interpolate(words, { core: grouped(body.core_in), out: grouped(body.core_out) });
}

function doorOf(body, world) {
  return world?.housings.get(body.housing)?.door ?? world?.doors.get(body.door ?? world.lines.get(body.line)?.door);
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
