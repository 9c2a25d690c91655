/* The checklist of a line: each item is good, bad, or does not apply here; what people need always applies. */

import { button, choices, chosen, copy, tell } from "../dom.js";
import { finish } from "./acts.js";
import { cautions } from "./door.js";

const LOOKED_AT = [["good", "Good"], ["bad", "Bad"]];
const ANSWERS = [...LOOKED_AT, ["not_applicable", "Not here"]];

export function checkPage(app, id) {
  const line = app.world.lines.get(id);
  if (!line?.checklist?.length || line.state !== "open") return null;
  const door = app.world.doors.get(line.door);
  const form = copy("check", {
    cautions: door ? cautions(door, [line]) : [],
    items: line.checklist.map((item) => copy("check-item", {
      label: item.label, choices: choices(`item-${item.key}`, item.is_needed ? LOOKED_AT : ANSWERS),
    })),
    note: copy("note", { label: "Note" }),
  });
  const back = door ? `#/door/${door.id}` : "#/";
  const write = () => submit(app, form, line, back);
  form.addEventListener("submit", (event) => { event.preventDefault(); write(); });
  return {
    title: door ? `Checklist at ${door.number}` : "Checklist", sub: `${line.order.kind_label}, order ${line.order.number}`,
    back, backWords: door?.number ?? "Orders", body: [form], isForm: true,
    acts: [button("All is answered", "button-primary", write)],
  };
}

async function submit(app, form, line, back) {
  const items = Object.fromEntries(line.checklist.map((item) => [item.key, chosen(form, `item-${item.key}`)]));
  const open = line.checklist.filter((item) => items[item.key] === null);
  tell(form, open.map((item) => `Not answered yet: ${item.label}`));
  if (open.length) return;
  const note = form.querySelector("[data-note]").value.trim();
  await finish(app, form, [{ kind: "checked", body: { line: line.id, items, note } }], back);
}
