/* The meaning of a word beside it, as WCAG 1.4.13 wants it: on hover and on focus, it stays while the pointer
   is on it, and Escape puts it away. Without this file, and on touch, the word is a link to the glossary. */

const LINGER_MS = 250;
const GAP = 4;
const note = document.createElement("div");
let of = null;
let leaving = 0;

note.className = "term-note";
note.popover = "manual";
note.setAttribute("aria-hidden", "true");

function place(word) {
  const at = word.getBoundingClientRect();
  const { width, height } = note.getBoundingClientRect();
  const below = at.bottom + GAP;
  const top = below + height > innerHeight ? Math.max(GAP, at.top - height - GAP) : below;
  note.style.top = `${top}px`;
  note.style.left = `${Math.max(GAP, Math.min(at.left, document.documentElement.clientWidth - width - GAP))}px`;
}

function show(word) {
  clearTimeout(leaving);
  if (word === of) return;
  hide();
  of = word;
  // The description is told by the word itself; the note is for the eye alone.
  note.textContent = word.getAttribute("aria-description");
  document.body.append(note);
  note.showPopover();
  place(word);
}

function hide() {
  clearTimeout(leaving);
  if (!of) return;
  of = null;
  note.hidePopover();
  note.remove();
}

function leave() {
  clearTimeout(leaving);
  leaving = setTimeout(() => { if (!of?.matches(":focus-visible")) hide(); }, LINGER_MS);
}

const wordAt = ({ target }) => target instanceof Element ? target.closest(".term") : null;

if (note.showPopover) {
  document.addEventListener("pointerover", (event) => {
    const word = event.pointerType === "touch" ? null : wordAt(event);
    if (word) show(word);
    else if (note.contains(event.target)) clearTimeout(leaving);
    else if (of) leave();
  });
  document.addEventListener("focusin", (event) => {
    const word = wordAt(event);
    if (word?.matches(":focus-visible")) show(word);
    else hide();
  });
  document.addEventListener("focusout", (event) => { if (wordAt(event)) hide(); });
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Escape" || !of) return;
    hide();
    event.stopPropagation();
  }, true);
  addEventListener("scroll", hide, { capture: true, passive: true });
  document.addEventListener("htmx:beforeSwap", hide);
}
