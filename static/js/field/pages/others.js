/* Every page but the first, fetched as one once the first is shown. */

export { checkPage } from "./check.js";
export { corePage } from "./core.js";
export { doorPage } from "./door.js";
export { findPage } from "./find.js";
export { foundPage } from "./found.js";
export { outboxPage } from "./outbox.js";
export { remarkPage } from "./remark.js";
export { settingsPage } from "./settings.js";
export { swapPage } from "./swap.js";
export { unreachedPage } from "./unreached.js";
