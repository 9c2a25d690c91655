"""What the glossary is made of."""

from dataclasses import dataclass

from keyctl.lib.language import Text
from keyctl.words.sources import Source


@dataclass(frozen=True)
class Word:
    """``slug`` is its anchor on the page, and stays; name and meaning are in the language of the reader."""

    slug: str
    name: Text
    meaning: Text
    source: Source
    # Slugs of words that help to understand it.
    related: tuple[str, ...] = ()

    def __str__(self) -> str:
        return str(self.name)
