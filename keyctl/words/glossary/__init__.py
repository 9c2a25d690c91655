"""All words by slug."""

from keyctl.words.glossary import cores, custody, keys, pins, records, systems, work
from keyctl.words.parts import Word

_ALL = (cores.WORDS, pins.WORDS, keys.WORDS, systems.WORDS, work.WORDS, custody.WORDS, records.WORDS)

WORDS: dict[str, Word] = {word.slug: word for words in _ALL for word in words}
