"use strict";

/* The key desk. Scans are sent one after the other, so that none is lost while another is under way; a
   signature is drawn into a field of 1000 by 400. Without this file every form works by itself. */

const scanForm = document.querySelector("[data-desk-scan]");
const scanField = scanForm.elements.text;
const finishForm = document.querySelector("[data-desk-finish]");
const waiting = [];
let isSending = false;

// What it may say stands in the page, in its language.
const trouble = document.getElementById("desk-trouble");

function tell(sentence) {
  const note = document.createElement("div");
  note.className = "message message-error";
  const words = document.createElement("p");
  words.textContent = sentence;
  note.append(words);
  trouble.replaceChildren(note);
}

/* Scanning */

function post(text) {
  return new Promise((resolve) => {
    const request = (event) => {
      if (event.detail.elt !== scanForm) return;
      document.body.removeEventListener("htmx:afterRequest", request);
      resolve(event.detail.successful || event.detail.xhr.status === 422 || event.detail.xhr.status === 409);
    };
    document.body.addEventListener("htmx:afterRequest", request);
    htmx.ajax("POST", scanForm.action, { source: scanForm, target: "#tray", swap: "outerHTML", values: { text } });
  });
}

async function send() {
  if (isSending) return;
  isSending = true;
  while (waiting.length) {
    const taken = await post(waiting[0]);
    if (!taken) {
      tell(trouble.dataset.again.replace("{waiting}", waiting.join(", ")));
      break;
    }
    waiting.shift();
  }
  isSending = false;
}

function goOn() {
  const next = finishForm.elements.signed_as.closest("details:not([open])")
    ? finishForm.elements.cabinet
    : finishForm.elements.signed_as;
  next.focus();
  next.scrollIntoView({ block: "center" });
}

scanForm.addEventListener("submit", (event) => {
  event.preventDefault();
  const text = scanField.value.trim();
  scanField.value = "";
  if (text) waiting.push(text);
  else if (!waiting.length) goOn();
  send();
});

/* A list that was swapped keeps the hands on the keyboard: on the first choice, else on the field. */
document.body.addEventListener("htmx:afterSettle", (event) => {
  if (event.detail.target?.id !== "tray") return;
  const choice = document.querySelector("#tray .desk-choices button, #tray #found-cabinet");
  if (choice) choice.focus();
  else if (!finishForm.contains(document.activeElement)) scanField.focus();
});

/* What is chosen beside the list is kept at once, so that a reload loses none of it. */
finishForm.addEventListener("change", () => {
  const facts = new FormData(finishForm);
  facts.delete("strokes");
  facts.delete("signed_as");
  fetch(finishForm.dataset.deskAgree, { method: "POST", body: facts }).catch(() => {});
});

/* The word about a key may still be under way when the list is signed: it goes with the signature too. */
finishForm.addEventListener("formdata", (event) => {
  for (const choice of document.querySelectorAll("#tray select[data-desk-condition]")) {
    event.formData.set(`condition-${choice.dataset.deskCondition}`, choice.value);
  }
});

finishForm.addEventListener("submit", (event) => {
  if (waiting.length) {
    event.preventDefault();
    tell(trouble.dataset.wait.replace("{waiting}", waiting.join(", ")));
    return;
  }
  const button = finishForm.querySelector("[type=submit]");
  setTimeout(() => { button.disabled = true; });
});
window.addEventListener("pageshow", () => { finishForm.querySelector("[type=submit]").disabled = false; });

/* The signature */

const MOST_SIGNS = 28000;
const LEAST_STEP = 4;
const pad = finishForm.querySelector("[data-desk-pad]");
const board = pad.querySelector("svg");
const path = pad.querySelector(".desk-strokes");
const strokes = finishForm.querySelector("[data-desk-strokes]");
let last = null;

function point(event) {
  const box = board.getBoundingClientRect();
  const within = (value, size) => Math.min(size, Math.max(0, Math.round(value)));
  return [
    within(((event.clientX - box.left) / box.width) * 1000, 1000),
    within(((event.clientY - box.top) / box.height) * 400, 400),
  ];
}

function write(words) {
  if (strokes.value.length + words.length > MOST_SIGNS) return;
  strokes.value += words;
  path.setAttribute("d", strokes.value);
}

function begin(event) {
  if (event.button) return;
  event.preventDefault();
  board.setPointerCapture(event.pointerId);
  last = point(event);
  write(`M${last[0]} ${last[1]}L${last[0]} ${last[1]}`);
}

function draw(event) {
  if (!last) return;
  const moves = event.getCoalescedEvents?.() ?? [];
  for (const move of moves.length ? moves : [event]) {
    const next = point(move);
    if (Math.hypot(next[0] - last[0], next[1] - last[1]) < LEAST_STEP) continue;
    write(`L${next[0]} ${next[1]}`);
    last = next;
  }
}

function end() {
  last = null;
}

pad.hidden = false;
board.addEventListener("pointerdown", begin);
board.addEventListener("pointermove", draw);
for (const name of ["pointerup", "pointercancel", "lostpointercapture"]) board.addEventListener(name, end);
pad.querySelector("[data-desk-wipe]").addEventListener("click", () => {
  strokes.value = "";
  path.setAttribute("d", "");
});
