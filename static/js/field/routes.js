/* From the address after the # to a page: {title, body, acts, back?, sub?, onCode?, isForm?}. */

import { button, copy, message } from "./dom.js";
import { ordersPage } from "./pages/orders.js";
import { fetchPageWords, gettext } from "./say.js";

// The path, the page by its name, and whether it needs the pack.
const ROUTES = [
  [/^\/$/, "ordersPage", true],
  [/^\/find$/, "findPage", true],
  [/^\/door\/([\w-]+)$/, "doorPage", true],
  [/^\/core\/(\w+)$/, "corePage", true],
  [/^\/swap\/([\w-]+)$/, "swapPage", true],
  [/^\/found\/([\w-]+)$/, "foundPage", true],
  [/^\/check\/([\w-]+)$/, "checkPage", true],
  [/^\/unreached\/([\w-]+)$/, "unreachedPage", true],
  [/^\/remark\/([\w-]+)$/, "remarkPage", true],
  [/^\/outbox$/, "outboxPage", false],
  [/^\/settings$/, "settingsPage", false],
];

// What is here: the first page at once, the others a moment later.
const pages = { ordersPage };
let coming = null;

/* False where they did not come, as without a network before the worker has them: asked again, they may. */
export async function fetchPages() {
  // The words first: what a page says is looked up as soon as its script is here.
  coming ??= fetchPageWords().then(() => import("./pages/others.js"));
  try {
    Object.assign(pages, await coming);
    return true;
  } catch {
    coming = null;
    return false;
  }
}

export function pageFor(path, app) {
  for (const [pattern, name, needsPack] of ROUTES) {
    const match = pattern.exec(path);
    if (!match) continue;
    if (needsPack && !app.world) return nothingYet(app);
    return pages[name] ? pages[name](app, ...match.slice(1)) ?? notHere() : onItsWay(app);
  }
  return notHere();
}

function onItsWay(app) {
  const page = { title: gettext("One moment"), back: "#/", backWords: gettext("Orders"), body: [], acts: [] };
  fetchPages().then((isHere) => app.arrived(page, isHere ? null : notFetched(app)));
  return page;
}

function notFetched(app) {
  if (app.isNewer) return notOfThisVersion();
  const words = gettext("This part of the app is not on the tablet yet, and there is no network to fetch it. Try again where there is one.");
  const body = [message(words, "warning", [button(gettext("Try again"), "button-primary", () => app.again())])];
  return { title: gettext("Not on this tablet"), back: "#/", backWords: gettext("Orders"), body, acts: [] };
}

/* The header says it, too, and offers to load it. */
function notOfThisVersion() {
  const words = gettext("This page belongs to the newer version of this app. Load it to go on.");
  return { title: gettext("Not on this tablet"), back: "#/", backWords: gettext("Orders"), body: [message(words, "info")], acts: [] };
}

export function sectionOf(path) {
  return { find: "find", core: "find", outbox: "outbox", settings: "settings" }[path.split("/")[1]] ?? "orders";
}

function nothingYet(app) {
  const [title, words] = app.session
    ? [gettext("Orders are on their way"), app.reach === "away" ? gettext("There is no network, and no orders are on this tablet yet. They come by themselves with the network.") : gettext("Orders, doors and cores are being fetched.")]
    : [gettext("Nobody is signed in"), gettext("Sign in to get your orders. It needs the network once; after that the work goes on without it.")];
  return { title: gettext("In the field"), body: [copy("empty", { title, words })], acts: [] };
}

function notHere() {
  return {
    title: gettext("Not on this tablet"), back: "#/", backWords: gettext("Orders"), acts: [],
    body: [copy("empty", { title: gettext("This is not on the tablet"), words: gettext("It may have been done or moved meanwhile. Look for it with Find.") })],
  };
}
