"""The German catalogue: whole, true to its placeholders, and compiled as it is written.

The .po is read by a small parser of the test's own, after the description in the manual of GNU gettext ("The
Format of PO Files"); the .mo by the standard library's `gettext`.
"""

import ast
import gettext
import html
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from django.conf import settings
from django.test import Client
from django.utils import translation

from keyctl.words.glossary import WORDS
from tests.factories import make_user

FOLDER = Path(settings.BASE_DIR) / "keyctl" / "locale" / "de" / "LC_MESSAGES"
DOMAINS = pytest.mark.parametrize("domain", sorted(file.stem for file in FOLDER.glob("*.po")))
# As Python's `%` and `str.format` and Django's blocktranslate write them.
PLACEHOLDERS = re.compile(r"%\(\w+\)[sd]|\{\w*(?::[^{}]*)?\}")
# But for a time of day, like {now:%H:%M}.
WRITTEN = re.compile(r"\{\w*:(?!%)[^{}]*\}|%\(\w+\)[^sd%]")
TAGS = re.compile(r"</?[a-z]+\b")
# gettext's own way of telling a context from a message.
EOT = "\x04"


@dataclass
class Message:
    flags: str = ""
    texts: dict[str, str] = field(default_factory=dict)

    @property
    def key(self) -> str:
        context = self.texts.get("msgctxt")
        return self.texts["msgid"] if context is None else f"{context}{EOT}{self.texts['msgid']}"

    @property
    def said(self) -> list[str]:
        return [text for name, text in self.texts.items() if name.startswith("msgstr")]

    @property
    def is_said(self) -> bool:
        return all(text.strip() for text in self.said)


def messages(domain: str) -> Iterator[Message]:
    """The head, whose msgid is empty, is none."""
    for block in re.split(r"\n\s*\n", (FOLDER / f"{domain}.po").read_text(encoding="utf-8")):
        message, name = Message(), ""
        for line in block.splitlines():
            if line.startswith("#,"):
                message.flags += line
            elif found := re.match(r'(msg\w+(?:\[\d\])?) (".*")$', line):
                name = found.group(1)
                message.texts[name] = ast.literal_eval(found.group(2))
            elif line.startswith('"'):
                message.texts[name] += ast.literal_eval(line)
        if message.texts.get("msgid"):
            yield message


def ours(text: str) -> set[str]:
    return set(PLACEHOLDERS.findall(text))


@DOMAINS
def test_every_message_is_said(domain: str) -> None:
    assert [message.key for message in messages(domain) if not message.is_said] == []
    assert [message.key for message in messages(domain) if "fuzzy" in message.flags] == []


@DOMAINS
def test_no_message_stands_twice(domain: str) -> None:
    keys = [message.key for message in messages(domain)]
    assert len(keys) == len(set(keys))


@DOMAINS
def test_every_placeholder_is_kept(domain: str) -> None:
    """The singular may leave out its number: "one door"."""
    said = [message for message in messages(domain) if message.is_said]
    assert [message.key for message in said if not keeps_its_placeholders(message)] == []


def keeps_its_placeholders(message: Message) -> bool:
    if "msgid_plural" not in message.texts:
        return ours(message.texts["msgstr"]) == ours(message.texts["msgid"])
    allowed = {name: ours(message.texts[name]) for name in ("msgid", "msgid_plural")}
    return (
        ours(message.texts["msgstr[1]"]) == allowed["msgid_plural"]
        and ours(message.texts["msgstr[0]"]) in allowed.values()
    )


@DOMAINS
def test_no_text_writes_a_number_its_own_way(domain: str) -> None:
    """Its thousands and decimals would be those of English in every language: `lib.numbers.as_number`."""
    own = [message.key for message in messages(domain) if WRITTEN.search("".join(message.texts.values()))]
    assert own == []


@DOMAINS
def test_markup_is_kept(domain: str) -> None:
    said = [m for m in messages(domain) if m.is_said and "msgid_plural" not in m.texts]
    changed = [m.key for m in said if sorted(TAGS.findall(m.key)) != sorted(TAGS.findall(m.said[0]))]
    assert changed == []


@DOMAINS
def test_what_is_compiled_is_what_is_written(domain: str) -> None:
    with (FOLDER / f"{domain}.mo").open("rb") as file:
        compiled = gettext.GNUTranslations(file)
    expected: dict[str | tuple[str, int], str] = {}
    for message in messages(domain):
        if not message.is_said:
            continue
        if "msgid_plural" in message.texts:
            expected |= {(message.key, form): text for form, text in enumerate(message.said)}
        else:
            expected[message.key] = message.said[0]
    kept = {key: text for key, text in vars(compiled)["_catalog"].items() if key != ""}
    assert kept == expected


def test_a_lost_placeholder_is_found_out() -> None:
    assert keeps_its_placeholders(Message(texts={"msgid": "{door} is %(n)s", "msgstr": "%(n)s: {door}"}))
    assert not keeps_its_placeholders(Message(texts={"msgid": "{door} is shut", "msgstr": "zu"}))
    plural = {"msgid": "a door", "msgid_plural": "%(n)s doors", "msgstr[0]": "eine Tür"}
    assert keeps_its_placeholders(Message(texts=plural | {"msgstr[1]": "%(n)s Türen"}))
    assert not keeps_its_placeholders(Message(texts=plural | {"msgstr[1]": "Türen"}))


def test_a_number_that_a_text_writes_is_found_out() -> None:
    assert all(map(WRITTEN.search, ("{doors:,} doors", "{share:.0%}", "{length:g} in", "%(length).2f in")))
    assert not any(map(WRITTEN.search, ("{doors} doors", "%(n)s %(unit)s", "40 %", "%(n)d", "{door}: {why}")))


@pytest.mark.django_db
def test_the_glossary_comes_in_german(client: Client) -> None:
    client.force_login(make_user())
    answer = client.get("/words/", headers={"accept-language": "de"})
    page = html.unescape(re.sub(r"<[^>]+>", "", answer.content.decode()))
    assert answer.headers["Content-Language"] == "de"
    english = {slug: str(word.meaning) for slug, word in WORDS.items()}
    with translation.override("de"):
        german = {slug: str(word.meaning) for slug, word in WORDS.items()}
    assert {slug for slug in WORDS if german[slug] == english[slug]} == set()
    assert {slug for slug in WORDS if german[slug] not in page} == set()
