/* Whoever waits sees it: a sign after a quarter of a second, for whatever the page asks of the server. And
   what was sent is not sent again by a second press: its form is busy until the answer is there.

   An answer that is saved to a file leaves the page where it is and tells it nothing. So a cookie is set
   before a page is left, and the server takes it away with such an answer (keyctl/lib/arrivals.py). */

const SLOW_AFTER_MS = 250;
const LOOK_EVERY_MS = 100;
const LONGEST_MS = 120000;
const COOKIE = location.protocol === "https:" ? "__Host-waiting" : "waiting";
const sign = document.getElementById("wait-sign");
const waits = new Map();

function begin(what) {
  if (waits.has(what)) return;
  waits.set(what, setTimeout(() => {
    document.documentElement.classList.add("is-waiting");
    sign.textContent = sign.dataset.words;
  }, SLOW_AFTER_MS));
}

function end(what) {
  clearTimeout(waits.get(what));
  waits.delete(what);
  if (waits.size) return;
  document.documentElement.classList.remove("is-waiting");
  sign.textContent = "";
}

/* Requests of the page itself. What looks by itself how far something is keeps nobody waiting. */

document.addEventListener("htmx:beforeSend", ({ detail }) => {
  if (!detail.elt.getAttribute("hx-trigger")?.startsWith("every")) begin(detail.xhr);
});
document.addEventListener("htmx:afterRequest", ({ detail }) => end(detail.xhr));

/* Another page, or a file. */

let look = null;

function setCookie(age) {
  const secure = location.protocol === "https:" ? "; Secure" : "";
  document.cookie = `${COOKIE}=1; Path=/; Max-Age=${age}; SameSite=Strict${secure}`;
}

function stay() {
  clearInterval(look);
  look = null;
  setCookie(0);
  end("page");
  for (const form of document.querySelectorAll("form.is-sent")) free(form);
}

function leave() {
  if (look) return;
  const left = Date.now();
  setCookie(LONGEST_MS / 1000);
  begin("page");
  look = setInterval(() => {
    const isThere = !document.cookie.split("; ").includes(`${COOKIE}=1`);
    if (isThere || Date.now() - left > LONGEST_MS) stay();
  }, LOOK_EVERY_MS);
}

function leads(link, event) {
  if (event.defaultPrevented || event.button) return false;
  if (event.ctrlKey || event.metaKey || event.shiftKey || event.altKey) return false;
  if (!link || link.target || link.origin !== location.origin) return false;
  return !link.hash || link.pathname !== location.pathname || link.search !== location.search;
}

document.addEventListener("click", (event) => {
  if (leads(event.target.closest("a[href]"), event)) leave();
});
window.addEventListener("beforeunload", (event) => {
  if (!event.defaultPrevented) leave();
});
window.addEventListener("pageshow", stay);
document.addEventListener("keydown", (event) => {
  if (event.key === "Escape" && look) stay();
});

/* A form is sent once. Fields for scanners are not held: they send one after the other by themselves. */

function isHeld(form) {
  return form.method === "post" && !form.target && !form.matches("[data-desk-scan], [data-scanning]");
}

function hold(form, button) {
  form.classList.add("is-sent");
  button?.classList.add("is-busy");
  button?.setAttribute("aria-disabled", "true");
}

function free(form) {
  form.classList.remove("is-sent");
  for (const button of form.querySelectorAll(".is-busy")) {
    button.classList.remove("is-busy");
    button.removeAttribute("aria-disabled");
  }
}

document.addEventListener("submit", (event) => {
  if (!event.target.matches("form.is-sent")) return;
  event.preventDefault();
  event.stopImmediatePropagation();
}, true);
document.addEventListener("submit", ({ target: form, submitter, defaultPrevented }) => {
  if (defaultPrevented || form.target || form.method === "dialog") return;
  if (isHeld(form)) hold(form, submitter);
  leave();
});
document.addEventListener("htmx:beforeSend", ({ detail }) => {
  const { elt, requestConfig } = detail;
  if (elt.matches("form") && isHeld(elt)) hold(elt, requestConfig.triggeringEvent?.submitter);
});
document.addEventListener("htmx:afterRequest", ({ detail }) => {
  if (detail.elt.matches("form")) free(detail.elt);
});
