/* What the app says, in the language of the page. /field/words.js, made from Django's catalogue, runs before the
   modules; where it says nothing of a text, as in English, the text stays as it is written here. It holds what the
   first page says; the words of the other pages come before those do. */

const { said, which } = globalThis.spoken ?? { said: {}, which: (count) => Number(count !== 1) };

export const LANGUAGE = document.documentElement.lang || "en-gb";
export const gettext = (text) => said[text] ?? text;
export const ngettext = (one, many, count) => (said[one] ?? [one, many])[which(count)];

/* For a word that means two things: the first argument says which. */
export const pgettext = (sense, text) => said[`${sense}\u0004${text}`] ?? text;

/* A text with named places, as in “Swap at %(door)s”, and what stands there. */
export function interpolate(text, facts) {
  return text.replace(/%\((\w+)\)s/g, (place, name) => String(facts[name] ?? ""));
}

/* Words of another version, in which a text may be written otherwise or be of another language, are not taken. */
export async function fetchPageWords() {
  const answer = await fetch("/field/page-words.json");
  if (answer.headers.get("X-Field-Version") !== document.body.dataset.version) throw new Error("The words are of another version.");
  Object.assign(said, await answer.json());
}
