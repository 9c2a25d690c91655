/* A door: what is in it, what must be heeded, what is to be done, and what was done here. */

import { copy, tag, way } from "../dom.js";
import { gettext, interpolate } from "../say.js";
import { CLASSES, clock, due, grouped } from "../words.js";
import { isLockOut, linesAt, plannedFor } from "../world.js";
import { sentenceOf } from "./outbox.js";
import { openCode } from "./orders.js";

export function doorPage(app, id) {
  const { world } = app;
  const door = world.doors.get(id);
  if (!door) return null;
  const lines = linesAt(world, door);
  const own = world.acts.filter((record) => concerns(record.event.body, door, lines));
  const body = copy("door", {
    site: world.sites.get(door.site)?.name, building: door.building_name, floor: door.floor,
    tags: doorTags(door),
    cautions: cautions(door, lines),
    note: door.note,
    housings: door.housings.map((housing) => housingPlate(app, housing, lines)),
    hasActs: own.length > 0,
    own: own.map((record) => ownRow(record, world)),
  });
  return {
    title: door.number, sub: door.name, back: "#/", backWords: gettext("Orders"), body: [body],
    acts: acts(app, door, lines), onCode: (code) => openCode(app, code),
  };
}

export function doorTags(door) {
  const tones = { critical: "tag-bad", restricted: "tag-warn" };
  return [
    tag(CLASSES[door.door_class] ?? door.door_class, tones[door.door_class] ?? "tag-plain"),
    ...(door.is_egress ? [tag(gettext("Way out"), "tag-warn")] : []),
    ...(door.is_fire_rated ? [tag(gettext("Fire-rated"), "tag-warn")] : []),
  ];
}

export function cautions(door, lines = []) {
  return [
    ...(door.is_egress ? [copy("caution-egress")] : []),
    ...(door.is_fire_rated ? [copy("caution-fire")] : []),
    ...(lines.some(isLockOut) ? [copy("caution-lockout")] : []),
  ];
}

function acts(app, door, lines) {
  const remark = way(gettext("Note, photo"), `#/remark/${door.id}`);
  const [first, ...others] = lines.filter((line) => line.state === "open").map((line) => [whatToDo(app.world, line, lines), line]);
  if (!first) return [remark];
  return [
    way(gettext("Not reached"), `#/unreached/${first[1].id}`), remark,
    ...others.map(([[words, href]]) => way(words, href)),
    way(...first[0], "button-primary"),
  ];
}

/* A door that is kept shut gets another core first; its checklist comes when it is open again. */
function whatToDo(world, line, lines) {
  if (line.checklist.length && !isLockOut(line)) return [gettext("Checklist"), `#/check/${line.id}`];
  const isOneOfSeveral = lines.filter((each) => each.housing && each.state === "open").length > 1;
  const label = world.housings.get(line.housing)?.label;
  return [isOneOfSeveral && label ? interpolate(gettext("Swap: %(label)s"), { label }) : gettext("Swap the core"), `#/swap/${line.id}`];
}

function housingPlate(app, housing, lines) {
  const line = lines.find((each) => each.housing === housing.id && (each.state === "open" || each.record));
  const core = app.world.cores.get(housing.core);
  const meant = line?.state === "open" ? plannedFor(line, housing) : null;
  return copy("housing", {
    title: housing.label || housing.kind,
    tags: line ? lineTags(line) : [],
    core: whatIsIn(housing),
    coreTags: core?.is_disputed || housing.found !== undefined ? [tag(gettext("To be settled"), "tag-warn")] : [],
    meant: grouped(meant),
    order: line ? `${line.order.number}, ${line.order.kind_label}: ${line.order.title}` : "",
    unreached: line?.unreached, lineNote: line?.note,
    acts: housingActs(housing, line),
  });
}

function whatIsIn(housing) {
  if (housing.found !== undefined) return housing.found ? interpolate(gettext("%(core)s was found"), { core: grouped(housing.found) }) : gettext("It was found empty");
  return grouped(housing.core) || gettext("No core");
}

function lineTags(line) {
  if (line.state === "done") return [tag(line.record?.answer ? gettext("Done") : gettext("Done, not sent"), line.record?.answer ? "tag-good" : "tag-wait")];
  const day = due(line.order.due_on);
  return day ? [tag(...day)] : [];
}

function housingActs(housing, line) {
  const isDue = line?.state === "open" && (isLockOut(line) || !line.checklist.length);
  return [
    ...(isLockOut(line) && isDue ? [way(gettext("Open again: checklist"), `#/check/${line.id}`)] : []),
    way(gettext("Something else is in it"), `#/found/${housing.id}`),
    ...(isDue ? [] : [way(gettext("Swap without an order"), `#/swap/${housing.id}`)]),
    ...(line ? [way(gettext("Open the bench page (online)"), `/orders/${line.order.id}/`, "button-quiet")] : []),
  ];
}

function concerns(body, door, lines) {
  return body.door === door.id
    || door.housings.some((housing) => housing.id === body.housing)
    || lines.some((line) => line.id === body.line);
}

function ownRow(record, world) {
  const row = document.createElement("li");
  row.className = "field-row";
  row.append(sentenceOf(record.event, world), tag(clock(record.event.claimed_at), "tag-plain"));
  return row;
}
