"use strict";

/* A scanner types faster than a network answers: each serial leaves the field at once and waits its turn,
   and what could not be sent is sent again. Without this script the form is an ordinary one. */

const RETRY_AFTER_MS = 3000;

function setUpScanning(form) {
  const field = form.querySelector("input[name=text]");
  let waiting = [];
  let isSending = false;

  function send() {
    if (isSending || !waiting.length) return;
    const batch = waiting;
    let isKept = false;
    waiting = [];
    isSending = true;
    const note = (event) => { isKept = event.detail.xhr.status >= 200 && event.detail.xhr.status < 500; };
    form.addEventListener("htmx:afterRequest", note, { once: true });
    window.htmx.ajax("POST", form.action, {
      source: form, target: form.dataset.scanning, swap: "innerHTML", values: { text: batch.join("\n") },
    }).catch(() => {}).then(() => {
      form.removeEventListener("htmx:afterRequest", note);
      isSending = false;
      if (isKept) return send();
      waiting = [...batch, ...waiting];
      setTimeout(send, RETRY_AFTER_MS);
    });
  }

  form.addEventListener("submit", (event) => {
    if (!window.htmx) return;
    event.preventDefault();
    const serial = field.value.trim();
    field.value = "";
    field.focus();
    if (serial) waiting.push(serial);
    send();
  });
  window.addEventListener("beforeunload", (event) => { if (isSending || waiting.length) event.preventDefault(); });
  field.focus();
}

for (const form of document.querySelectorAll("form[data-scanning]")) setUpScanning(form);
