"use strict";

const root = document.documentElement;

/* The look: "auto" and no contrast follow the device, what is chosen is kept in this browser. */

const wantsContrast = window.matchMedia("(prefers-contrast: more)");

function storeLook(name, choice) {
  try {
    if (choice === "auto") localStorage.removeItem(`keyctl-${name}`);
    else localStorage.setItem(`keyctl-${name}`, choice);
  } catch {
    // Storage may be shut off; the choice then lasts for this page only.
  }
}

function hasContrast() {
  return (root.dataset.contrast ?? (wantsContrast.matches ? "more" : "usual")) === "more";
}

function showLook() {
  const choice = root.dataset.theme ?? "auto";
  for (const button of document.querySelectorAll("[data-theme-choice]")) {
    button.setAttribute("aria-pressed", String(button.dataset.themeChoice === choice));
  }
  for (const button of document.querySelectorAll("[data-contrast-choice]")) {
    button.setAttribute("aria-pressed", String(hasContrast()));
  }
}

function chooseTheme(choice) {
  if (choice === "auto") delete root.dataset.theme;
  else root.dataset.theme = choice;
  storeLook("theme", choice);
}

function chooseContrast(choice) {
  root.dataset.contrast = choice;
  storeLook("contrast", choice);
}

function setUpLook() {
  for (const box of document.querySelectorAll(".looks")) box.hidden = false;
  showLook();
  wantsContrast.addEventListener("change", showLook);
  document.addEventListener("click", (event) => {
    const button = event.target.closest("[data-theme-choice], [data-contrast-choice]");
    if (!button) return;
    if (button.dataset.themeChoice) chooseTheme(button.dataset.themeChoice);
    else chooseContrast(hasContrast() ? "usual" : "more");
    showLook();
  });
}

/* On a phone the index is a strip: the section that is open comes into sight. */

function showSection() {
  const open = [...document.querySelectorAll(".index [aria-current]")].at(-1);
  open?.scrollIntoView({ block: "nearest", inline: "center" });
}

/* Confirmation: data-confirm="Question" on a form, a link or a button. Listening in the capture phase
   puts the question before HTMX and before the browser's own action. */

const confirmed = new WeakSet();

function ask(question, label) {
  const dialog = document.getElementById("confirm-dialog");
  if (!dialog?.showModal) return Promise.resolve(window.confirm(question));
  dialog.querySelector("[data-confirm-question]").textContent = question;
  dialog.querySelector("[data-confirm-go]").textContent = label;
  dialog.returnValue = "";
  dialog.showModal();
  return new Promise((resolve) => {
    dialog.addEventListener("close", () => resolve(dialog.returnValue === "go"), { once: true });
  });
}

function hold(event, owner, label, again) {
  if (confirmed.delete(owner)) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  ask(owner.dataset.confirm, owner.dataset.confirmLabel ?? label).then((yes) => {
    if (!yes) return;
    confirmed.add(owner);
    again();
    confirmed.delete(owner);
  });
}

function setUpConfirm() {
  const goOn = document.querySelector("[data-confirm-go]")?.textContent ?? "";
  document.addEventListener("submit", (event) => {
    const { target: form, submitter } = event;
    if (!form.dataset.confirm) return;
    const label = submitter?.textContent.trim() || goOn;
    hold(event, form, label, () => form.requestSubmit(submitter));
  }, true);
  document.addEventListener("click", (event) => {
    const owner = event.target.closest("a[data-confirm], button[data-confirm]");
    if (owner) hold(event, owner, owner.textContent.trim(), () => owner.click());
  }, true);
}

/* What scripts say stands in the page, in its language. */

const spoken = () => document.getElementById("spoken").dataset;

/* A failed request says so in the page's message region. */

function say(sentence) {
  const note = document.createElement("div");
  note.className = "message message-error";
  const words = document.createElement("p");
  words.textContent = sentence;
  note.append(words);
  document.getElementById("messages")?.replaceChildren(note);
}

function setUpFailures() {
  document.addEventListener("htmx:sendError", () => {
    say(spoken().away);
  });
  document.addEventListener("htmx:responseError", (event) => {
    const { status } = event.detail.xhr;
    if (status === 403) say(spoken().denied);
    else if (status === 404) say(spoken().gone);
    else say(spoken().failed.replace("{status}", status));
  });
}

/* A revealed secret leaves the page after data-hide-after seconds, and at once when the page is hidden. */

function hideSecret(box) {
  const words = document.createElement("p");
  words.textContent = spoken().hidden;
  box.replaceChildren(words);
}

function startSecrets(scope) {
  for (const box of scope.querySelectorAll("[data-hide-after]")) {
    setTimeout(hideSecret, Number(box.dataset.hideAfter) * 1000, box);
    box.removeAttribute("data-hide-after");
  }
}

function setUpSecrets() {
  startSecrets(document);
  document.addEventListener("htmx:load", (event) => startSecrets(event.detail.elt.parentElement ?? document));
  window.addEventListener("pagehide", () => {
    for (const box of document.querySelectorAll(".secret")) hideSecret(box);
  });
}

/* A sign-out on any page takes the field app's orders and doors off the tablet; what it has not sent stays. */

function wiped(database) {
  return new Promise((resolve) => {
    const transaction = database.transaction("kept", "readwrite");
    for (const name of ["pack", "session"]) transaction.objectStore("kept").delete(name);
    transaction.oncomplete = transaction.onabort = () => { database.close(); resolve(); };
  });
}

async function wipeTablet() {
  const names = (await window.indexedDB?.databases?.()) ?? [];
  if (!names.some(({ name }) => name === "keyctl-field")) return;
  await new Promise((resolve) => {
    const request = indexedDB.open("keyctl-field");
    request.onsuccess = () => wiped(request.result).then(resolve);
    request.onerror = request.onblocked = resolve;
  });
}

function setUpSignOut() {
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (!form.matches('form[action$="/account/sign-out/"]')) return;
    event.preventDefault();
    wipeTablet().catch(() => {}).then(() => form.submit());
  });
}

setUpLook();
showSection();
setUpConfirm();
setUpFailures();
setUpSecrets();
setUpSignOut();
