/* A core: where it is, and where it is put now. */

import { button, choices, chosen, copy, tag, tell } from "../dom.js";
import { gettext, interpolate } from "../say.js";
import { grouped, PLACES } from "../words.js";
import { versionOf } from "../world.js";
import { finish } from "./acts.js";
import { openCode } from "./orders.js";

const ROWS = [["case", gettext("My case")], ["bench", gettext("Bench")], ["shelf", gettext("Shelf")], ["gone", gettext("Gone for good"), gettext("Destroyed or lost for ever; it is never used again.")]];

export function corePage(app, code) {
  const core = app.world.cores.get(code);
  const body = document.createElement("form");
  body.className = "form field-form";
  const errors = document.createElement("div");
  errors.dataset.errors = "";
  errors.setAttribute("role", "alert");
  body.append(copy("core", {
    where: core ? core.where || PLACES[core.place] : gettext("Not known here"),
    tags: tagsOf(core), construction: core?.construction, isUnknown: !core || core.is_unknown,
    places: choices("place", ROWS),
  }), errors);
  const write = () => submit(app, body, code);
  body.addEventListener("submit", (event) => { event.preventDefault(); write(); });
  return {
    title: interpolate(gettext("Core %(core)s"), { core: grouped(code) }), back: "#/find", backWords: gettext("Find"), body: [body], isForm: true,
    acts: [button(gettext("It is there now"), "button-primary", write)], onCode: (other) => openCode(app, other),
  };
}

function tagsOf(core) {
  return [
    ...(core?.is_disputed ? [tag(gettext("To be settled"), "tag-warn")] : []),
    ...(core && !core.is_pinned ? [tag(gettext("Not pinned"), "tag-wait")] : []),
  ];
}

async function submit(app, form, code) {
  const place = chosen(form, "place");
  if (!place) return tell(form, [gettext("Tap where you put it.")]);
  return finish(app, form, [{ kind: "put", body: { core: code, core_version: versionOf(app.world, code), place } }], `#/core/${code}`);
}
