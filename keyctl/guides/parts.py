"""What a guide is made of: plain data, so that a test can follow every link and look for every button.

A text names its parts in braces:
``step(_("Open {people}."), people=page("places:people", _("People and roles")))``.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.urls import reverse
from django.utils.functional import Promise
from django.utils.html import format_html
from django.utils.safestring import SafeString

from keyctl.places.roles import Role

Text = str | Promise


@dataclass(frozen=True)
class Page:
    """A page by its route, which takes nothing else, and what the link to it is called."""

    route: str
    label: Text

    def __html__(self) -> SafeString:
        return format_html('<a href="{}">{}</a>', reverse(self.route), self.label)


@dataclass(frozen=True)
class Control:
    """A button, a field or a heading, called as it is called on the page of that route."""

    words: Text
    route: str

    def __html__(self) -> SafeString:
        return format_html("<strong>{}</strong>", self.words)


@dataclass(frozen=True)
class Code:
    """What is typed on the server or stands in a file."""

    text: str

    def __html__(self) -> SafeString:
        return format_html("<code>{}</code>", self.text)


Part = Page | Control | Code


@dataclass(frozen=True)
class Block:
    """A paragraph, a numbered step or a caution."""

    kind: str
    text: Text
    parts: Mapping[str, Part]

    @property
    def html(self) -> SafeString:
        # Without parts there is nothing to fill in, and the text is escaped as it stands.
        return format_html(str(self.text), **self.parts) if self.parts else format_html("{}", self.text)


@dataclass(frozen=True)
class Picture:
    """One of ``.pictures``; what it shows is said beside it as well."""

    name: str
    caption: Text
    kind: str = "picture"
    size: tuple[int, int] = (920, 639)

    @property
    def file(self) -> str:
        return f"pictures/{self.name}.webp"


@dataclass(frozen=True)
class Commands:
    """Lines for the server's shell."""

    lines: str
    kind: str = "commands"


@dataclass(frozen=True)
class Section:
    heading: Text
    blocks: tuple[Block | Picture | Commands, ...]

    @property
    def runs(self) -> list[tuple[str, list[Any]]]:
        """Blocks of a kind that follow each other, for steps are one list."""
        found: list[tuple[str, list[Any]]] = []
        for block in self.blocks:
            if not found or found[-1][0] != block.kind:
                found.append((block.kind, []))
            found[-1][1].append(block)
        return found


@dataclass(frozen=True)
class Guide:
    slug: str
    title: Text
    summary: Text
    # Whose main work it is; everybody may read it.
    roles: tuple[Role, ...]
    sections: tuple[Section, ...]
    # Namespaces whose pages show a link to this guide.
    helps: tuple[str, ...] = ()


def page(route: str, label: Text) -> Page:
    return Page(route, label)


def on(route: str, words: Text) -> Control:
    return Control(words, route)


def step(text: Text, **parts: Part) -> Block:
    return Block("step", text, parts)


def note(text: Text, **parts: Part) -> Block:
    return Block("note", text, parts)


def caution(text: Text, **parts: Part) -> Block:
    return Block("caution", text, parts)


def section(heading: Text, *blocks: Block | Picture | Commands) -> Section:
    return Section(heading, blocks)
