"use strict";

const root = document.documentElement;

/* Theme: "auto" follows the device, the other two are kept in this browser. */

function storeTheme(choice) {
  try {
    if (choice === "auto") localStorage.removeItem("keyctl-theme");
    else localStorage.setItem("keyctl-theme", choice);
  } catch {
    // Storage may be shut off; the choice then lasts for this page only.
  }
}

function showTheme() {
  const choice = root.dataset.theme ?? "auto";
  for (const button of document.querySelectorAll("[data-theme-choice]")) {
    button.setAttribute("aria-pressed", String(button.dataset.themeChoice === choice));
  }
}

function setUpTheme() {
  for (const box of document.querySelectorAll(".looks")) box.hidden = false;
  showTheme();
  document.addEventListener("click", (event) => {
    const button = event.target.closest("[data-theme-choice]");
    if (!button) return;
    const choice = button.dataset.themeChoice;
    if (choice === "auto") delete root.dataset.theme;
    else root.dataset.theme = choice;
    storeTheme(choice);
    showTheme();
  });
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
  document.addEventListener("submit", (event) => {
    const { target: form, submitter } = event;
    if (!form.dataset.confirm) return;
    const label = submitter?.textContent.trim() || "Go on";
    hold(event, form, label, () => form.requestSubmit(submitter));
  }, true);
  document.addEventListener("click", (event) => {
    const owner = event.target.closest("a[data-confirm], button[data-confirm]");
    if (owner) hold(event, owner, owner.textContent.trim(), () => owner.click());
  }, true);
}

/* A slow request says so; a failed one says so in the page's message region. */

const SLOW_AFTER_MS = 400;
const running = new Map();

function setUpWaiting() {
  document.addEventListener("htmx:beforeRequest", (event) => {
    const timer = setTimeout(() => {
      root.classList.add("is-waiting");
      document.getElementById("wait-sign").textContent = "Working…";
    }, SLOW_AFTER_MS);
    running.set(event.detail.xhr, timer);
  });
  document.addEventListener("htmx:afterRequest", (event) => {
    clearTimeout(running.get(event.detail.xhr));
    running.delete(event.detail.xhr);
    if (running.size) return;
    root.classList.remove("is-waiting");
    document.getElementById("wait-sign").textContent = "";
  });
}

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
    say("The server could not be reached. Nothing was changed. Check the connection and try again.");
  });
  document.addEventListener("htmx:responseError", (event) => {
    const { status } = event.detail.xhr;
    if (status === 403) say("You may not do this, or the page is too old. Load the page again.");
    else if (status === 404) say("This is not here any more. Load the page again.");
    else say(`The server answered with an error (${status}). Load the page again to see what was kept.`);
  });
}

/* A revealed secret leaves the page after data-hide-after seconds, and at once when the page is hidden. */

function hideSecret(box) {
  const words = document.createElement("p");
  words.textContent = "Hidden again. Reveal it once more if you still need it; every reveal is recorded.";
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

setUpTheme();
setUpConfirm();
setUpWaiting();
setUpFailures();
setUpSecrets();
setUpSignOut();
