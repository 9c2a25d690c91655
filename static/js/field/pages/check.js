/* The checklist of a line: each item is good, bad, or does not apply here; what people need always applies. */

import { button, choices, chosen, copy, tell } from "../dom.js";
import { gettext, interpolate } from "../say.js";
import { ofOrder } from "../words.js";
import { finish } from "./acts.js";
import { cautions } from "./door.js";

const LOOKED_AT = [["good", gettext("Good")], ["bad", gettext("Bad")]];
const ANSWERS = [...LOOKED_AT, ["not_applicable", gettext("Not here")]];

export function checkPage(app, id) {
  const line = app.world.lines.get(id);
  if (!line?.checklist?.length || line.state !== "open") return null;
  const door = app.world.doors.get(line.door);
  const form = copy("check", {
    cautions: door ? cautions(door, [line]) : [],
    items: line.checklist.map((item) => copy("check-item", {
      label: item.label, choices: choices(`item-${item.key}`, item.is_needed ? LOOKED_AT : ANSWERS),
    })),
    note: copy("note", { label: gettext("Note") }),
  });
  const back = door ? `#/door/${door.id}` : "#/";
  const write = () => submit(app, form, line, back);
  form.addEventListener("submit", (event) => { event.preventDefault(); write(); });
  return {
    title: door ? interpolate(gettext("Checklist at %(door)s"), { door: door.number }) : gettext("Checklist"), sub: ofOrder(line.order.kind_label, line),
    back, backWords: door?.number ?? gettext("Orders"), body: [form], isForm: true,
    acts: [button(gettext("All is answered"), "button-primary", write)],
  };
}

async function submit(app, form, line, back) {
  const items = Object.fromEntries(line.checklist.map((item) => [item.key, chosen(form, `item-${item.key}`)]));
  const open = line.checklist.filter((item) => items[item.key] === null);
  tell(form, open.map((item) => interpolate(gettext("Not answered yet: %(item)s"), { item: item.label })));
  if (open.length) return;
  const note = form.querySelector("[data-note]").value.trim();
  await finish(app, form, [{ kind: "checked", body: { line: line.id, items, note } }], back);
}
