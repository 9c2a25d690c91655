/* Pages are made from the <template>s of the frame: words go in as text, never as markup. */

import { gettext } from "./say.js";

/* A copy of template `t-<name>`, filled: data-text and data-href take a fact's words, data-class adds its classes,
   data-slot takes its nodes, data-if leaves the element out where the fact is empty. */
export function copy(name, facts = {}) {
  const node = document.getElementById(`t-${name}`).content.firstElementChild.cloneNode(true);
  for (const it of [node, ...node.querySelectorAll("*")]) fill(it, facts);
  return node;
}

function fill(it, facts) {
  const { text, href, class: classes, slot, if: condition } = it.dataset;
  if (condition && !isThere(facts[condition])) return it.remove();
  if (text) it.textContent = facts[text] ?? "";
  if (href) it.setAttribute("href", ownAddress(facts[href]));
  if (classes && facts[classes]) it.classList.add(...facts[classes].split(" "));
  if (slot) it.replaceChildren(...[facts[slot] ?? []].flat());
  return undefined;
}

function isThere(fact) {
  return Array.isArray(fact) ? fact.length > 0 : Boolean(fact);
}

/* Only pages of this host: an address that came with data leads nowhere else. */
function ownAddress(address) {
  return /^(#|\/(?!\/))/.test(address ?? "") ? address : "#/";
}

export function tag(words, tone = "") {
  return copy("tag", { words, tone });
}

export function button(words, tone, act) {
  const node = copy("act", { words, tone });
  node.addEventListener("click", () => act(node));
  return node;
}

export function way(words, href, tone = "") {
  return copy("way", { words, href, tone });
}

export function message(words, tone, acts = []) {
  const node = copy("message", { words, tone: `message-${tone}`, acts });
  if (!acts.length) node.querySelector(".actions").remove();
  return node;
}

export function head(facts) {
  return copy("head", facts);
}

/* Radio buttons as large rows: [[value, words, small?], ...]. */
export function choices(name, rows, chosen) {
  return rows.map(([value, words, small]) => {
    const node = copy("choice", { words, small });
    const input = node.querySelector("input");
    Object.assign(input, { name, value, defaultChecked: value === chosen });
    return node;
  });
}

export function chosen(form, name) {
  return form.querySelector(`input[name="${name}"]:checked`)?.value ?? null;
}

export function choose(form, name, value) {
  const input = [...form.querySelectorAll(`input[name="${name}"]`)].find((each) => each.value === value);
  if (input) input.checked = true;
}

/* What stands in the way, at the end of a form, with the hand's way to it. */
export function tell(form, sentences) {
  const box = form.querySelector("[data-errors]");
  box.replaceChildren(...sentences.map((words) => message(words, "error")));
  if (sentences.length) box.scrollIntoView({ block: "center" });
}

/* A question that takes a large answer; true for going on. */
export function ask(question, words, go, stay = gettext("Go back")) {
  const dialog = document.getElementById("ask");
  dialog.querySelector("[data-ask-question]").textContent = question;
  dialog.querySelector("[data-ask-words]").textContent = words;
  dialog.querySelector("[data-ask-go]").textContent = go;
  dialog.querySelector("[data-ask-stay]").textContent = stay;
  dialog.returnValue = "";
  dialog.showModal();
  return new Promise((resolve) => {
    dialog.addEventListener("close", () => resolve(dialog.returnValue === "go"), { once: true });
  });
}
