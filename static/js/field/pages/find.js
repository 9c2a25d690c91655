/* A door or a core by scan, number, name or tag; what the tablet does not hold is asked of the server. */

import { codeField } from "../codes.js";
import { button, copy, message } from "../dom.js";
import { gettext, interpolate } from "../say.js";
import { lookUp } from "../server.js";
import { cleanTag, grouped, PLACES } from "../words.js";
import { doorName, findDoors } from "../world.js";
import { openCode } from "./orders.js";

const SHORTEST_TAG = 6;

export function findPage(app) {
  const code = codeField({
    label: gettext("Scan or type"), hint: gettext("The number or the name on a door, or the tag on a door or a core."), keepsText: true,
    onText: (text) => list(form, app, text), onCode: (text) => openBest(form, app, text),
  });
  const form = copy("find", { code: code.node });
  form.addEventListener("submit", (event) => event.preventDefault());
  const mine = [...app.world.cores.values()].filter((core) => core.place === "case");
  if (mine.length) form.querySelector("[data-found]").replaceChildren(coreList(gettext("In a case"), mine));
  const open = button(gettext("Open"), "button-primary", () => openBest(form, app, code.input.value));
  const camera = button(gettext("Scan"), "", () => code.node.querySelector("[data-camera]").click());
  return { title: gettext("Find"), body: [form], acts: [camera, open], isForm: true, onCode: (text) => openBest(form, app, text) };
}

function list(form, app, text) {
  const rows = [...findDoors(app.world, text).map(doorRow), ...coresLike(app.world, text).map(coreRow)];
  form.querySelector("[data-found]").replaceChildren(rows.length ? listOf(rows) : "");
}

function coresLike(world, text) {
  const tag = cleanTag(text);
  return tag.length < 3 ? [] : [...world.cores.values()].filter((core) => core.tag.startsWith(tag)).slice(0, 10);
}

function openBest(form, app, text) {
  const [door] = findDoors(app.world, text);
  if (door) return app.go(`#/door/${door.id}`);
  if (app.world.cores.has(cleanTag(text))) return openCode(app, cleanTag(text));
  return askTheServer(form, app, text);
}

async function askTheServer(form, app, text) {
  const box = form.querySelector("[data-found]");
  const tag = cleanTag(text);
  if (!tag) return;
  box.replaceChildren(message(gettext("It is not on this tablet. Asking the server…"), "info"));
  try {
    const told = await lookUp(tag);
    box.replaceChildren(listOf([...(told.doors ?? []).map(doorFacts), ...(told.cores ?? []).map(coreRow)]));
  } catch {
    const acts = tag.length >= SHORTEST_TAG ? [button(interpolate(gettext("Core %(core)s"), { core: grouped(tag) }), "", () => openCode(app, tag))] : [];
    box.replaceChildren(message(acts.length ? gettext("Neither the tablet nor the server knows it. If it is the tag on a core, you may write down where you put that core all the same.") : gettext("Nothing is found under that."), "warning", acts));
  }
}

function listOf(rows) {
  const box = document.createElement("ul");
  box.className = "field-stops";
  box.append(...rows);
  return box;
}

function coreList(title, cores) {
  const box = document.createElement("section");
  const heading = document.createElement("h2");
  heading.textContent = title;
  box.append(heading, listOf(cores.map(coreRow)));
  return box;
}

function doorRow(door) {
  return copy("found-row", { href: `#/door/${door.id}`, number: door.number, name: door.name || doorName(door), what: `${door.building_name}, ${door.floor}` });
}

/* A door outside the pack: what is known of it now, and its ordinary page. */
function doorFacts(door) {
  const cores = door.housings.map((housing) => grouped(housing.core) || gettext("no core")).join(", ");
  return copy("found-row", { href: `/estate/doors/${door.id}/`, number: door.number, name: door.name || doorName(door), what: interpolate(gettext("%(building)s, %(floor)s; in it: %(cores)s"), { building: door.building_name, floor: door.floor, cores }) });
}

function coreRow(core) {
  return copy("found-row", { href: `#/core/${core.tag}`, number: gettext("Core"), name: grouped(core.tag), what: core.where || PLACES[core.place] || "" });
}
