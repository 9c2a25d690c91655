// Runs before the first paint, so that a chosen look does not flash in late.
(() => {
  const choices = { theme: ["light", "dark"], contrast: ["more", "usual"] };
  for (const [name, known] of Object.entries(choices)) {
    try {
      const chosen = localStorage.getItem(`keyctl-${name}`);
      if (known.includes(chosen)) document.documentElement.dataset[name] = chosen;
    } catch {
      // Storage may be shut off; the device's own setting then holds.
    }
  }
})();
