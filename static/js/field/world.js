/* What the tablet takes the estate to be: the pack as the server sent it, with one's own acts on top. An act
   counts here from the moment it is written until a pack comes that was made after its answer. */

export function worldOf(pack, records) {
  const world = indexed(structuredClone(pack));
  for (const record of records) {
    world.acts.push(record);
    if (!record.settled) APPLY[record.event.kind]?.(world, record.event.body, record);
    else remember(world, record);
  }
  return world;
}

/* What was done here goes on to be shown as such while its order is open. */
function remember(world, record) {
  const line = world.lines.get(record.event.body.line);
  if (line?.state === "done") line.record = record;
}

function indexed(pack) {
  const world = {
    madeAt: pack.made_at, orders: pack.orders, sites: byKey(pack.sites, "id"), doors: byKey(pack.doors, "id"),
    cores: byKey(pack.cores, "tag"), housings: new Map(), lines: new Map(), acts: [],
  };
  for (const door of pack.doors) {
    for (const housing of door.housings) world.housings.set(housing.id, Object.assign(housing, { door }));
  }
  for (const order of pack.orders) {
    for (const line of order.lines) world.lines.set(line.id, Object.assign(line, { order }));
  }
  return world;
}

function byKey(rows, key) {
  return new Map(rows.map((row) => [row[key], row]));
}

const APPLY = {
  swapped(world, body, record) {
    takeOut(world, body.core_out, body.put_at);
    putIn(world, body.core_in, world.housings.get(body.housing));
    // A door that is kept shut is swapped twice, and its line ends with the checklist.
    if (!isLockOut(world.lines.get(body.line))) finish(world, body.line, record);
  },
  put(world, body) {
    takeOut(world, body.core, body.place);
  },
  found(world, body) {
    const housing = world.housings.get(body.housing);
    if (!housing || housing.core === (body.core || null)) return;
    // What the register says and what the hand saw differ: neither is believed until somebody settles it.
    housing.found = body.core;
    for (const tag of [housing.core, body.core]) {
      const core = world.cores.get(tag);
      if (core) core.is_disputed = true;
    }
  },
  unreached(world, body) {
    const line = world.lines.get(body.line);
    if (line) line.unreached = body.reason;
  },
  checked(world, body, record) {
    finish(world, body.line, record);
  },
};

function takeOut(world, tag, place) {
  if (!tag) return;
  const core = known(world, tag);
  leave(world, core);
  moved(core, place, null);
}

function putIn(world, tag, housing) {
  const core = known(world, tag);
  leave(world, core);
  if (housing) {
    housing.core = tag;
    delete housing.found;
  }
  moved(core, "housing", housing);
}

/* A core that no pack named has no version to build on: the server sees to it. */
function known(world, tag) {
  if (!world.cores.has(tag)) world.cores.set(tag, { tag, version: null, is_pinned: true, is_unknown: true });
  return world.cores.get(tag);
}

function leave(world, core) {
  for (const housing of world.housings.values()) {
    if (housing.core === core.tag) housing.core = null;
  }
}

function moved(core, place, housing) {
  core.place = place;
  core.where = housing ? doorName(housing.door) : "";
  if (core.version !== null) core.version += 1;
}

function finish(world, id, record) {
  const line = world.lines.get(id);
  if (!line) return;
  line.state = "done";
  line.record = record;
  delete line.unreached;
}

export function isLockOut(line) {
  return line?.order.kind === "lock_out";
}

export function doorName(door) {
  return `${door.building} ${door.number}`;
}

export function versionOf(world, tag) {
  return world.cores.get(tag)?.version ?? null;
}

/* The stops of a round: open lines and those done here, by site, building, floor and number. */
export function stopsOf(world) {
  const stops = [];
  for (const line of world.lines.values()) {
    const door = world.doors.get(line.door);
    if (door && (line.state === "open" || line.record)) stops.push({ line, door, order: line.order });
  }
  return stops.sort((one, other) => compare(place(world, one.door), place(world, other.door)));
}

function place(world, door) {
  return [world.sites.get(door.site)?.name ?? "", door.building, door.level, door.number];
}

function compare(one, other) {
  for (const [index, value] of one.entries()) {
    const way = typeof value === "number"
      ? value - other[index]
      : String(value).localeCompare(String(other[index]), "en", { numeric: true });
    if (way) return way;
  }
  return 0;
}

/* The core that a line wants in its door; none where it is in it already, as while a door is kept shut. */
export function plannedFor(line, housing) {
  const core = line?.core ?? line?.meant ?? null;
  return core && core !== housing?.core ? core : null;
}

export function linesAt(world, door) {
  return [...world.lines.values()].filter((line) => line.door === door.id);
}

/* Doors by tag, or by number or name as far as typed; the exact ones first. */
export function findDoors(world, text, most = 30) {
  const wanted = text.trim().toLowerCase();
  if (!wanted) return [];
  const tag = wanted.replace(/[^a-z0-9]/g, "");
  const rank = (door) => {
    if (door.tag.toLowerCase() === tag) return 0;
    const words = [door.number, doorName(door), door.name].map((word) => word.toLowerCase());
    if (words.slice(0, 2).includes(wanted)) return 1;
    if (words.some((word) => word.startsWith(wanted))) return 2;
    return words.some((word) => word.includes(wanted)) ? 3 : 9;
  };
  return [...world.doors.values()]
    .map((door) => [rank(door), door])
    .filter(([nearness]) => nearness < 9)
    .sort((one, other) => one[0] - other[0] || compare(place(world, one[1]), place(world, other[1])))
    .slice(0, most)
    .map(([, door]) => door);
}
