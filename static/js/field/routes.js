/* From the address after the # to a page: {title, body, acts, back?, sub?, onCode?, isForm?}. */

import { copy } from "./dom.js";
import { checkPage } from "./pages/check.js";
import { corePage } from "./pages/core.js";
import { doorPage } from "./pages/door.js";
import { findPage } from "./pages/find.js";
import { foundPage } from "./pages/found.js";
import { ordersPage } from "./pages/orders.js";
import { outboxPage } from "./pages/outbox.js";
import { remarkPage } from "./pages/remark.js";
import { settingsPage } from "./pages/settings.js";
import { swapPage } from "./pages/swap.js";
import { unreachedPage } from "./pages/unreached.js";

// The path, the page, and whether it needs the pack.
const ROUTES = [
  [/^\/$/, ordersPage, true],
  [/^\/find$/, findPage, true],
  [/^\/door\/([\w-]+)$/, doorPage, true],
  [/^\/core\/(\w+)$/, corePage, true],
  [/^\/swap\/([\w-]+)$/, swapPage, true],
  [/^\/found\/([\w-]+)$/, foundPage, true],
  [/^\/check\/([\w-]+)$/, checkPage, true],
  [/^\/unreached\/([\w-]+)$/, unreachedPage, true],
  [/^\/remark\/([\w-]+)$/, remarkPage, true],
  [/^\/outbox$/, outboxPage, false],
  [/^\/settings$/, settingsPage, false],
];

export function pageFor(path, app) {
  for (const [pattern, page, needsPack] of ROUTES) {
    const match = pattern.exec(path);
    if (!match) continue;
    if (needsPack && !app.world) return nothingYet(app);
    return page(app, ...match.slice(1)) ?? notHere();
  }
  return notHere();
}

export function sectionOf(path) {
  return { find: "find", core: "find", outbox: "outbox", settings: "settings" }[path.split("/")[1]] ?? "orders";
}

function nothingYet(app) {
  const [title, words] = app.session
    ? ["Orders are on their way", app.reach === "away" ? "There is no network, and no orders are on this tablet yet. They come by themselves with the network." : "Orders, doors and cores are being fetched."]
    : ["Nobody is signed in", "Sign in to get your orders. It needs the network once; after that the work goes on without it."];
  return { title: "In the field", body: [copy("empty", { title, words })], acts: [] };
}

function notHere() {
  return {
    title: "Not on this tablet", back: "#/", backWords: "Orders", acts: [],
    body: [copy("empty", { title: "This is not on the tablet", words: "It may have been done or moved meanwhile. Look for it with Find." })],
  };
}
