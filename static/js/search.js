"use strict";

/* The field in the spine: a combobox after the pattern of the WAI-ARIA Authoring Practices. HTMX fills its list;
   the focus stays in the field, and aria-activedescendant says which option is meant. */

const OFF = "keyctl-no-slash";

function readSwitch() {
  try {
    return localStorage.getItem(OFF) === null;
  } catch {
    return true;
  }
}

function keepSwitch(isOn) {
  try {
    if (isOn) localStorage.removeItem(OFF);
    else localStorage.setItem(OFF, "1");
  } catch {
    // Storage may be shut off; the choice then lasts for this page only.
  }
}

class Choices {
  constructor(field) {
    this.field = field;
    this.list = document.getElementById(field.getAttribute("aria-controls"));
  }

  get options() {
    return [...this.list.querySelectorAll("[role=option]")];
  }

  get active() {
    return document.getElementById(this.field.getAttribute("aria-activedescendant") ?? "");
  }

  mark(option) {
    for (const each of this.options) each.setAttribute("aria-selected", String(each === option));
    if (!option) {
      this.field.removeAttribute("aria-activedescendant");
      return;
    }
    this.field.setAttribute("aria-activedescendant", option.id);
    option.scrollIntoView({ block: "nearest" });
  }

  show(isShown) {
    this.list.hidden = !isShown;
    this.field.setAttribute("aria-expanded", String(isShown));
    if (!isShown) this.mark(null);
  }

  move(step) {
    const all = this.options;
    if (!all.length) return;
    this.show(true);
    const at = all.indexOf(this.active);
    // Past either end nothing is marked: what was typed is meant.
    const next = at < 0 && step < 0 ? all.length - 1 : at + step;
    this.mark(all[next] ?? null);
  }
}

function setUpKeys(field, choices) {
  const keys = {
    ArrowDown: () => choices.move(1),
    ArrowUp: () => choices.move(-1),
    Escape: () => choices.show(false),
    Enter: () => choices.active?.click(),
  };

  field.addEventListener("keydown", (event) => {
    if (event.isComposing || event.ctrlKey || event.metaKey || !(event.key in keys)) return;
    if (event.key === "Escape" && choices.list.hidden) return;
    if (event.key === "Enter" && (choices.list.hidden || !choices.active)) return;
    event.preventDefault();
    keys[event.key]();
  });
}

function setUpField(form) {
  const field = form.querySelector("input");
  const said = form.querySelector("[data-find-said]");
  const choices = new Choices(field);
  const { list } = choices;
  setUpKeys(field, choices);

  list.addEventListener("htmx:afterSwap", () => {
    const last = list.querySelector("[data-said]");
    choices.mark(null);
    choices.show(Boolean(last) && document.activeElement === field);
    said.textContent = last?.dataset.said ?? "";
  });
  // A press on an option must not take the focus, which would close the list before the click.
  list.addEventListener("mousedown", (event) => event.preventDefault());
  field.addEventListener("focus", () => choices.show(choices.options.length > 0 && field.value.trim() !== ""));
  field.addEventListener("blur", () => choices.show(false));
  return field;
}

/* One key without a modifier: it works outside of fields alone, and can be switched off (WCAG 2.1.4). */

function setUpSlash(field) {
  let isOn = readSwitch();
  const box = document.querySelector("[data-slash-switch]");
  const button = box?.querySelector("button");

  function tell() {
    if (isOn) field.setAttribute("aria-keyshortcuts", "/");
    else field.removeAttribute("aria-keyshortcuts");
    button?.setAttribute("aria-pressed", String(isOn));
  }

  if (box) box.hidden = false;
  button?.addEventListener("click", () => {
    isOn = !isOn;
    keepSwitch(isOn);
    tell();
  });
  document.addEventListener("keydown", (event) => {
    if (!isOn || event.key !== "/" || event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.target.closest?.("input, textarea, select, [contenteditable], dialog[open]")) return;
    event.preventDefault();
    field.focus();
    field.select();
  });
  tell();
}

for (const form of document.querySelectorAll("[data-find]")) setUpSlash(setUpField(form));
