/* Something else is in the door than the register says. */

import { codeField } from "../codes.js";
import { button, choices, choose, chosen, copy, tell } from "../dom.js";
import { gettext, interpolate } from "../say.js";
import { grouped } from "../words.js";
import { finish } from "./acts.js";

export function foundPage(app, id) {
  const housing = app.world.housings.get(id);
  if (!housing) return null;
  const { door } = housing;
  const code = codeField({ label: gettext("Tag on the core that is in it"), onCode: () => {} });
  const form = copy("found", { choices: choices("found", [["core", gettext("Another core")], ["empty", gettext("No core at all")]], "core"), code: code.node });
  form.addEventListener("change", () => { code.node.hidden = chosen(form, "found") !== "core"; });
  const write = () => submit(app, form, housing, code);
  form.addEventListener("submit", (event) => { event.preventDefault(); write(); });
  return {
    title: interpolate(gettext("Found at %(door)s"), { door: door.number }),
    sub: interpolate(gettext("The register says: %(core)s"), { core: grouped(housing.core) || gettext("no core") }),
    back: `#/door/${door.id}`, backWords: door.number, body: [form], isForm: true,
    acts: [button(gettext("Write it down"), "button-primary", write)],
    onCode: (tag) => { choose(form, "found", "core"); code.node.hidden = false; code.input.value = tag; },
  };
}

async function submit(app, form, housing, code) {
  const core = chosen(form, "found") === "core" ? code.value() : "";
  if (chosen(form, "found") === "core" && !core) return tell(form, [gettext("Scan or type the tag, or say that no core is in it.")]);
  return finish(app, form, [{ kind: "found", body: { housing: housing.id, core } }], `#/door/${housing.door.id}`);
}
