/* The field app: which page is shown, what the header says, when a round with the server is due. */

import { button, head, message, tag, way } from "./dom.js";
import { listenToScanner } from "./hand-scanner.js";
import { forgetOldAnswers, isUnsent, records, toSettle } from "./outbox.js";
import { fetchPages, pageFor, sectionOf } from "./routes.js";
import { goOnARound } from "./sending.js";
import { Odd, SignedOut, Unreachable } from "./server.js";
import { goToSignIn } from "./session.js";
import { all, read } from "./store.js";
import { gettext, interpolate, ngettext } from "./say.js";
import { age } from "./words.js";
import { worldOf } from "./world.js";

const ROUND_MS = 30_000;
const URGE_MS = 2000;
const LOOK_AGAIN_MS = 5000;
const LOOK_EVERY_MS = 3600 * 1000;
const WARN_AFTER_MS = 24 * 3600 * 1000;
const news = new BroadcastChannel("keyctl-field");

/* What every page may look at. `reach` says what the last round met: "", "away", "signed-out" or "odd". */
const app = {
  world: null, session: null, device: null, records: [], photos: [], reach: "", trouble: "", isNewer: false,
  isPersistent: null, state: null, round: tryRound, changed, go, arrived,
  again: () => showPage(),
};
let shown = null;
// What the shown page was made from: it is made again only when that differs, so that no focus is lost.
let madeFrom = "";
let isOnRound = false;
let wantsAnother = false;

/* Data */

async function load() {
  const [pack, session, device, events, photos] = await Promise.all(
    [read("pack"), read("session"), read("device"), records(), all("photos")],
  );
  Object.assign(app, { session: session ?? null, device: device ?? null, records: events, photos });
  app.world = pack && session ? worldOf(pack, events) : null;
}

/* After anything was written here or in another tab. A form that somebody is filling in is left alone. */
async function changed({ isOwn = true } = {}) {
  if (isOwn) news.postMessage("changed");
  await load();
  showFrame();
  const isFilledIn = shown?.isForm && app.world;
  if (!isFilledIn && stamp() !== madeFrom) showPage({ keepsPlace: true });
}

function stamp() {
  const acts = app.records.map((record) => [record.order, record.answer?.outcome, record.settled]);
  return JSON.stringify([app.world?.madeAt, acts, app.photos.length, app.session, app.device, app.reach, app.state !== null]);
}

/* What is written while a round is under way gets a round of its own. */
async function tryRound(wishes) {
  wantsAnother = true;
  if (isOnRound) return;
  isOnRound = true;
  try {
    while (wantsAnother) {
      wantsAnother = false;
      await oneRound(wishes);
    }
  } finally {
    isOnRound = false;
  }
}

async function oneRound(wishes) {
  try {
    const came = await goOnARound(wishes);
    if (came.busy) return;
    Object.assign(app, { reach: "", trouble: "", state: came.state });
  } catch (fault) {
    note(fault);
  }
  await changed();
}

function note(fault) {
  app.trouble = "";
  if (fault instanceof Unreachable) app.reach = "away";
  else if (fault instanceof SignedOut) app.reach = "signed-out";
  else {
    app.reach = "odd";
    app.trouble = fault instanceof Odd ? fault.message : gettext("The tablet’s storage does not work. Close the app and open it again.");
  }
}

/* The frame */

function showFrame() {
  const unsent = app.records.filter(isUnsent);
  const photos = app.photos.filter((photo) => !photo.refused).length;
  const settle = app.records.filter(toSettle).length;
  const oldest = unsent.length ? Date.now() - Date.parse(unsent[0].event.claimed_at) : 0;
  const box = document.querySelector("[data-unsent]");
  box.hidden = false;
  box.classList.toggle("is-unsent", unsent.length + photos > 0);
  box.classList.toggle("is-old", oldest > WARN_AFTER_MS);
  box.querySelector("[data-unsent-count]").textContent = unsent.length + photos || "✓";
  box.querySelector("[data-unsent-words]").textContent = unsentWords(unsent.length, photos, oldest, settle);
  document.querySelector("[data-who]").textContent = app.reach === "away" ? gettext("No network") : app.session?.name ?? "";
  showBanners(banners(unsent.length, oldest));
}

/* A region that is read aloud when it changes: so it changes only when its words do. */
function showBanners(found) {
  const box = document.getElementById("banner");
  if (found.map((each) => each.textContent).join() !== [...box.children].map((each) => each.textContent).join()) {
    box.replaceChildren(...found);
  }
}

function unsentWords(unsent, photos, oldest, settle) {
  if (unsent) return interpolate(gettext("not sent, oldest: %(age)s"), { age: age(oldest) });
  if (photos) return interpolate(ngettext("%(count)s photo not sent", "%(count)s photos not sent", photos), { count: photos });
  return settle ? interpolate(gettext("all sent, %(count)s to settle"), { count: settle }) : gettext("all sent");
}

function banners(unsent, oldest) {
  const found = [];
  if (app.reach === "signed-out" || !app.session) found.push(signInBanner(unsent));
  else if (!app.device && app.state) found.push(message(gettext("This tablet has no name yet. Name it before you start work."), "warning", [way(gettext("Name this tablet"), "#/settings")]));
  if (app.trouble) found.push(message(app.trouble, "error"));
  if (oldest > WARN_AFTER_MS) found.push(message(oldWords(oldest), "warning", [way(gettext("To the outbox"), "#/outbox")]));
  if (app.isNewer) found.push(message(gettext("A newer version of this app is here."), "info", [button(gettext("Load it"), "", () => window.location.reload())]));
  return found;
}

function oldWords(oldest) {
  return interpolate(gettext("Something was written %(age)s ago and is not sent yet. Find a network, or hand it in as a file."), { age: age(oldest) });
}

function signInBanner(unsent) {
  const waits = unsent && interpolate(ngettext(
    "%(count)s act waits on this tablet and is sent once somebody signs in.",
    "%(count)s acts wait on this tablet and are sent once somebody signs in.", unsent,
  ), { count: unsent });
  return message([gettext("Nobody is signed in."), waits].filter(Boolean).join(" "), "warning", [button(gettext("Sign in"), "button-primary", signIn)]);
}

async function signIn() {
  try {
    await goToSignIn();
  } catch (fault) {
    note(fault);
    if (fault instanceof Unreachable) app.trouble = gettext("To sign in, the tablet needs the network.");
    showFrame();
  }
}

/* Pages */

function pathNow() {
  return window.location.hash.slice(1) || "/";
}

function showPage({ keepsPlace = false } = {}) {
  const path = pathNow();
  show(Object.assign(pageFor(path, app), { path }));
  if (keepsPlace) return;
  window.scrollTo(0, 0);
  document.querySelector("#view h1").focus({ preventScroll: true });
}

/* What stood there while a page was on its way gives it the place, or else what is said in its stead. */
function arrived(waiting, instead) {
  if (shown !== waiting) return;
  if (instead) show(Object.assign(instead, { path: waiting.path }));
  else showPage();
}

function show(page) {
  shown = page;
  madeFrom = stamp();
  document.getElementById("view").replaceChildren(head(page), ...page.body);
  document.getElementById("acts").replaceChildren(...page.acts ?? []);
  document.title = interpolate(gettext("%(page)s – keyctl in the field"), { page: page.title });
  for (const link of document.querySelectorAll("[data-section]")) {
    if (link.dataset.section === sectionOf(page.path)) link.setAttribute("aria-current", "page");
    else link.removeAttribute("aria-current");
  }
}

function go(hash) {
  if (window.location.hash === hash) showPage();
  else window.location.hash = hash;
}

/* The start */

async function start() {
  document.querySelector("[data-rail]").hidden = false;
  window.addEventListener("hashchange", () => {
    // News may have shown the new page already; to make it again would empty a form.
    if (pathNow() !== shown?.path) showPage();
  });
  // One ear for all pages: a page that is made anew in the middle of a scan must not lose its beginning.
  listenToScanner((code) => shown?.onCode?.(code));
  // What was said to be missing may be there by now.
  document.getElementById("view").addEventListener("input", ({ target }) => {
    target.closest("form")?.querySelector("[data-errors]")?.replaceChildren();
  });
  news.addEventListener("message", () => changed({ isOwn: false }));
  try {
    await load();
  } catch (fault) {
    note(fault);
  }
  showFrame();
  showPage();
  keepRounds();
  keepTheApp();
  await tryRound();
  await forgetOldAnswers(Date.now());
  app.isPersistent = (await navigator.storage?.persist?.()) ?? null;
}

function keepRounds() {
  const whileSeen = () => { if (document.visibilityState === "visible") tryRound(); };
  window.addEventListener("online", whileSeen);
  window.addEventListener("focus", whileSeen);
  document.addEventListener("visibilitychange", whileSeen);
  setInterval(whileSeen, ROUND_MS);
}

/* The other pages come once the first is shown and the worker has them, and before it hears of a newer version:
   no app is made of two. */
async function keepTheApp() {
  if (!navigator.serviceWorker) return;
  const hadOne = navigator.serviceWorker.controller !== null;
  // It may have taken over before this page listens: so each time the one in charge is asked what it is.
  navigator.serviceWorker.addEventListener("controllerchange", askItsVersion);
  navigator.serviceWorker.addEventListener("message", ({ data }) => {
    if (typeof data?.version !== "string") return;
    app.isNewer = data.version !== document.body.dataset.version;
    showFrame();
  });
  navigator.serviceWorker.startMessages();
  if (hadOne) {
    // Where a newer one has taken over, the words are of another version and refused: that is told below.
    await fetchPages().catch(() => {});
    askItsVersion();
  }
  try {
    const registration = await navigator.serviceWorker.register("/field/sw.js", { scope: "/field/" });
    urgeNewer(registration);
    await navigator.serviceWorker.ready;
    // A word to one that is being replaced would wake it up, and the newer one would wait until it sleeps again.
    if (!registration.installing && !registration.waiting) registration.active.postMessage("keep-the-rest");
    await fetchPages();
  } catch {
    // Without the network the one that is there goes on.
  }
}

function askItsVersion() {
  navigator.serviceWorker.controller?.postMessage("which-version");
}

/* A newer worker that was held up by what the page asked for meanwhile stays waiting: it is told again. */
function urgeNewer(registration) {
  const urge = () => registration.waiting?.postMessage("take-over");
  urge();
  setInterval(urge, URGE_MS);
  // The look that came with this start may have been joined to an older one; an app may be left open for days.
  const look = () => { registration.update().catch(() => {}); };
  setTimeout(look, LOOK_AGAIN_MS);
  setInterval(look, LOOK_EVERY_MS);
}

start();
