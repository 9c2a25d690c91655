// Runs before the first paint, so that a chosen theme does not flash in late.
(() => {
  try {
    const chosen = localStorage.getItem("keyctl-theme");
    if (chosen === "light" || chosen === "dark") document.documentElement.dataset.theme = chosen;
  } catch {
    // Storage may be shut off; the device's own setting then holds.
  }
})();
