"use strict";

// Runs before the first paint, so that brightness, hand and size do not flash in late. No module, for that reason.
(() => {
  document.documentElement.dataset.scripts = "on";
  let look = {};
  try {
    look = JSON.parse(localStorage.getItem("keyctl-field-look")) ?? {};
  } catch {
    // Storage may be shut off; the device's own setting then holds.
  }
  for (const name of ["theme", "hand", "size"]) {
    if (typeof look[name] === "string") document.documentElement.dataset[name] = look[name];
  }
})();
