/* What the app says, in the language of the page. The catalogue (/field/words.js, made by Django) runs before the
   modules; where it says nothing of a text, as in English, the text stays as it is written here. */

const { django = {} } = globalThis;

export const LANGUAGE = document.documentElement.lang || "en-gb";
export const gettext = django.gettext ?? ((text) => text);
export const ngettext = django.ngettext ?? ((one, many, count) => (count === 1 ? one : many));

/* For a word that means two things: the first argument says which. */
export const pgettext = django.pgettext ?? ((_which, text) => text);

/* A text with named places, as in "Swap at %(door)s", and what stands there. */
export function interpolate(text, facts) {
  return text.replace(/%\((\w+)\)s/g, (place, name) => String(facts[name] ?? ""));
}
