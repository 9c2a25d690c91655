/* The guided swap on one page: which core went in, which came out, where the old one goes, three checks. With an
   order's line, or for a housing without one: what the hand did is written down either way. */

import { codeField } from "../codes.js";
import { button, choices, choose, chosen, copy, tell } from "../dom.js";
import { gettext, interpolate } from "../say.js";
import { grouped, ofOrder } from "../words.js";
import { plannedFor, versionOf } from "../world.js";
import { finish, photoField } from "./acts.js";
import { cautions } from "./door.js";

const CHECKS = ["operating_key_turned", "control_key_came_out", "egress_and_latch_tried"];
const OTHER = "other";
const NONE = "none";
const PUT_AT = "keyctl-field-put-at";

/* `id` is a line's or a housing's. */
export function swapPage(app, id) {
  const line = app.world.lines.get(id) ?? null;
  const housing = app.world.housings.get(line ? line.housing : id);
  if (!housing || (line && line.state !== "open")) return null;
  const { door } = housing;
  const goOn = (step) => form.querySelector(`[data-step=${step}] input`).focus();
  const fields = {
    codeIn: tagField("core-in", gettext("Tag of the core that goes in"), () => goOn("out")),
    codeOut: tagField("core-out", gettext("Tag of the core that came out"), () => goOn("place")),
    photo: photoField(),
  };
  const form = build(line, housing, fields);
  for (const name of ["core-in", "core-out"]) wire(form, name, name === "core-in" ? fields.codeIn : fields.codeOut);
  const write = () => submit(app, form, { line, housing, fields });
  form.addEventListener("submit", (event) => { event.preventDefault(); write(); });
  return {
    title: interpolate(gettext("Swap at %(door)s"), { door: door.number }), sub: ofOrder(housing.label || housing.kind, line),
    back: `#/door/${door.id}`, backWords: door.number, body: [form], isForm: true,
    acts: [button(gettext("The swap is done"), "button-primary", write)], onCode: (code) => takeScan(form, fields, code),
  };
}

function build(line, housing, { codeIn, codeOut, photo }) {
  const planned = plannedFor(line, housing);
  return copy("swap", {
    cautions: cautions(housing.door, line ? [line] : []),
    control: copy("caution-control"),
    coresIn: choices("core-in", [...(planned ? [[planned, grouped(planned), gettext("As planned")]] : []), [OTHER, gettext("Another core")]], planned ? "" : OTHER),
    codeIn: codeIn.node,
    coresOut: choices("core-out", [
      ...(housing.core ? [[housing.core, grouped(housing.core), gettext("As the register says")]] : []), [OTHER, gettext("Another core")], [NONE, gettext("None was in it")],
    ]),
    codeOut: codeOut.node,
    places: choices("put-at", [["case", gettext("My case")], ["bench", gettext("Bench")], ["shelf", gettext("Shelf")]], lastPlace()),
    more: [copy("note", { label: gettext("Note") }), photo.node],
    failed: copy("caution-failed"),
  });
}

function tagField(name, label, onCode) {
  return { name, ...codeField({ label, onCode }) };
}

/* The field for a tag shows only with "another"; the place of an old core only where there was one. */
function wire(form, name, field) {
  const show = () => {
    field.node.hidden = chosen(form, name) !== OTHER;
    form.querySelector("[data-place]").hidden = chosen(form, "core-out") === NONE;
  };
  form.addEventListener("change", show);
  show();
}

/* A scan without focus fills the first question that has no answer yet. */
function takeScan(form, { codeIn, codeOut }, code) {
  const isAnswered = chosen(form, "core-in") !== null && !(chosen(form, "core-in") === OTHER && !codeIn.value());
  const [name, field] = isAnswered ? ["core-out", codeOut] : ["core-in", codeIn];
  choose(form, name, code);
  if (chosen(form, name) !== code) {
    choose(form, name, OTHER);
    field.input.value = code;
  }
  form.dispatchEvent(new Event("change"));
}

function tagOf(form, field) {
  const choice = chosen(form, field.name);
  if (choice === OTHER) return field.value() || null;
  return choice === NONE ? "" : choice;
}

async function submit(app, form, { line, housing, fields }) {
  const coreIn = tagOf(form, fields.codeIn);
  const coreOut = tagOf(form, fields.codeOut);
  const checks = Object.fromEntries(CHECKS.map((name) => [name, form.elements[name].checked]));
  const missing = missingIn(coreIn, coreOut, checks, chosen(form, "put-at"));
  tell(form, missing);
  if (missing.length) return;
  const putAt = coreOut ? chosen(form, "put-at") : "case";
  if (coreOut) rememberPlace(putAt);
  const place = { door: housing.door.id, line: line?.id ?? null };
  const body = {
    line: place.line, housing: housing.id, core_in: coreIn, core_in_version: versionOf(app.world, coreIn),
    core_out: coreOut, core_out_version: versionOf(app.world, coreOut), put_at: putAt, ...checks, note: form.querySelector("[data-note]").value.trim(),
  };
  const photo = fields.photo.acts(place, interpolate(gettext("Swap at %(door)s"), { door: housing.door.number }));
  await finish(app, form, [{ kind: "swapped", body }, ...photo], `#/door/${housing.door.id}`);
}

function missingIn(coreIn, coreOut, checks, putAt) {
  const found = [];
  if (coreIn === null) found.push(gettext("Which core goes in? Tap it, scan it, or type its tag."));
  if (coreOut === null) found.push(gettext("Which core came out? Tap it, scan it, or type its tag."));
  if (coreIn && coreIn === coreOut) found.push(gettext("The same core cannot go in and come out. Look at the two tags again."));
  if (coreOut && !putAt) found.push(gettext("Where does the old core go?"));
  if (Object.values(checks).includes(false)) found.push(gettext("All three checks must be good before the swap is done."));
  return found;
}

function lastPlace() {
  try {
    return localStorage.getItem(PUT_AT) ?? "case";
  } catch {
    return "case";
  }
}

function rememberPlace(place) {
  try {
    localStorage.setItem(PUT_AT, place);
  } catch {
    // Then it is asked anew each time.
  }
}
