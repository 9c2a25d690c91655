/* Today's orders as a round: one's own first, then by site, building, floor and number. */

import { button, copy, tag, way } from "../dom.js";
import { gettext, interpolate } from "../say.js";
import { plannedFor, stopsOf } from "../world.js";
import { clock, due, grouped, ofOrder } from "../words.js";

export function ordersPage(app) {
  const stops = stopsOf(app.world);
  const open = stops.filter((stop) => stop.line.state === "open");
  const parts = [
    part(gettext("Mine"), stops.filter((stop) => stop.order.is_mine), app.world),
    part(stops.some((stop) => stop.order.is_mine) ? gettext("Other orders here") : gettext("Orders here"), stops.filter((stop) => !stop.order.is_mine), app.world),
  ].filter(Boolean);
  const body = copy("orders", {
    open: String(open.length),
    overdue: String(open.filter((stop) => isOverdue(stop.order)).length),
    done: String(stops.length - open.length),
    parts: parts.length ? parts : copy("empty", { title: gettext("Nothing is open at your sites"), words: gettext("New orders come by themselves. A door that has no order is under Find.") }),
    asOf: interpolate(gettext("As of %(when)s. New orders come with the network."), { when: clock(app.world.madeAt) }),
  });
  return { title: gettext("Orders"), body: [body], acts: acts(app, open), onCode: (code) => openCode(app, code) };
}

function acts(app, open) {
  const again = button(gettext("Send and fetch"), "", () => app.round({ wantsPack: true }));
  const next = open.find((stop) => stop.order.is_mine) ?? open[0];
  if (!next) return [again];
  return [again, way(interpolate(gettext("Next: %(door)s"), { door: next.door.number }), `#/door/${next.door.id}`, "button-primary")];
}

/* A label's code: a door's or a core's. */
export function openCode(app, code) {
  const door = [...app.world.doors.values()].find((each) => each.tag === code);
  app.go(door ? `#/door/${door.id}` : `#/core/${code}`);
}

function isOverdue(order) {
  return due(order.due_on)?.[1] === "tag-bad";
}

function part(title, stops, world) {
  if (!stops.length) return null;
  const floors = [];
  for (const stop of stops) {
    const last = floors.at(-1);
    if (last && last.floorOf === floorKey(stop.door)) last.stops.push(stop);
    else floors.push({ floorOf: floorKey(stop.door), stops: [stop] });
  }
  const isNewSite = (index) => world.sites.size > 1 && siteOf(floors[index]) !== siteOf(floors[index - 1]);
  return copy("round", { title, floors: floors.map((each, index) => floor(each.stops, world, isNewSite(index))) });
}

function floorKey(door) {
  return [door.site, door.building, door.level, door.floor].join("/");
}

function siteOf(floor) {
  return floor?.stops[0].door.site;
}

function floor(stops, world, namesSite) {
  const { door } = stops[0];
  return copy("floor", {
    site: namesSite ? world.sites.get(door.site)?.name : "",
    building: door.building_name, floor: door.floor, stops: stops.map((stop) => row(stop, world)),
  });
}

function row({ line, door, order }, world) {
  return copy("stop", {
    href: `#/door/${door.id}`,
    tone: line.state === "done" ? "is-done" : "",
    number: door.number,
    name: door.name || door.building_name,
    what: whatIsDue(line, order, world),
    tags: tagsOf(line, order),
  });
}

function whatIsDue(line, order, world) {
  const core = plannedFor(line, world.housings.get(line.housing));
  if (!core || !line.housing) return ofOrder(order.kind_label, line);
  return interpolate(gettext("%(kind)s, order %(order)s: %(core)s goes in"), { kind: order.kind_label, order: order.number, core: grouped(core) });
}

function tagsOf(line, order) {
  if (line.state === "done") return [tag(line.record.answer ? gettext("Done") : gettext("Done, not sent"), line.record.answer ? "tag-good" : "tag-wait")];
  const found = [];
  const day = due(order.due_on);
  if (day) found.push(tag(...day));
  if (line.unreached) found.push(tag(gettext("Not reached"), "tag-warn"));
  return found;
}
