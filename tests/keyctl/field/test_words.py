"""The words of the field app's scripts: in the language of the person, and none of them forgotten."""

import json
import re
from gettext import GNUTranslations
from pathlib import Path
from typing import Any

from django.conf import settings
from django.test import Client
from django.urls import reverse

from keyctl.accounts.models import User
from keyctl.field import assets
from keyctl.orders import services as orders
from tests.cast import Cast
from tests.keyctl.field.fieldroom import House

GERMAN = Path(settings.LOCALE_PATHS[0]) / "de" / "LC_MESSAGES"
# A call with what is said, as a script writes it.
SAID = re.compile(r'\b(n|p)?gettext\(\s*"([^"]*)"(?:,\s*"([^"]*)")?')
PLACES = re.compile(r"%\(\w+\)s")


def read_german(domain: str = "djangojs") -> dict[Any, str]:
    """By the reader of Python itself, which knows the form of such a file (GNU gettext, "MO Files")."""
    with (GERMAN / f"{domain}.mo").open("rb") as file:
        read = GNUTranslations(file)
    return {key: text for key, text in vars(read)["_catalog"].items() if key}


def speaking(client: Client, person: User, language: str) -> Client:
    person.language = language
    person.save()
    client.force_login(person)
    return client


def first_words(client: Client) -> dict[str, Any]:
    """What the script lays down for the modules."""
    text = client.get(reverse("field:words")).content.decode()
    found = re.fullmatch(r"globalThis\.spoken = \{ which: \(n\) => Number\(.+?\), said: (\{.*\}) \};\n", text)
    assert found
    told: dict[str, Any] = json.loads(found[1])
    return told


def later_words(client: Client) -> dict[str, Any]:
    told: dict[str, Any] = client.get(reverse("field:page-words")).json()
    return told


def said_in(files: list[Path]) -> set[str]:
    """The keys of what these scripts say, as catalogues write them."""
    said = [match for file in files for match in SAID.findall(file.read_text())]
    return {f"{first}\x04{second}" if kind == "p" else first for kind, first, second in said}


def words_in(order: dict[str, Any]) -> list[str]:
    return [order["kind_label"], *(point["label"] for point in order["lines"][0]["checklist"])]


def test_the_catalogue_is_in_the_language_of_the_person(client: Client, cast: Cast) -> None:
    speaking(client, cast.locksmith, "de")
    told = first_words(client) | later_words(client)
    german = read_german()
    assert len(told) > 150
    assert {key: text for key, text in told.items() if isinstance(text, str)} == {
        key: text for key, text in german.items() if isinstance(key, str)
    }
    assert told["%(days)s day"] == [german["%(days)s day", 0], german["%(days)s day", 1]]
    speaking(client, cast.locksmith, "en-gb")
    assert (first_words(client), later_words(client)) == ({}, {})


def test_the_first_page_waits_for_its_own_words_alone(client: Client, cast: Cast) -> None:
    speaking(client, cast.locksmith, "de")
    first, later = first_words(client), later_words(client)
    at_first = said_in(assets.first_modules())
    assert len(at_first) > 50
    assert at_first - first.keys() == set()
    assert said_in(assets.modules()) - at_first == later.keys()
    assert len(later) > len(first)


def test_frame_words_and_worker_are_of_one_version_in_each_language(client: Client, cast: Cast) -> None:
    versions = set()
    for language in ("de", "en-gb"):
        speaking(client, cast.locksmith, language)
        frame = client.get("/field/")
        worker = client.get("/field/sw.js").content.decode()
        version = frame.headers["X-Field-Version"]
        for name in ("words.js", "page-words.json"):
            assert client.get(f"/field/{name}").headers["X-Field-Version"] == version
        assert f'"version": "{version}"' in worker
        assert f'<html lang="{language}">' in frame.content.decode()
        assert client.get("/field/manifest.webmanifest").json()["lang"] == language
        versions.add(version)
    assert len(versions) == 2


def test_what_scripts_say_is_said_in_german_with_the_same_places() -> None:
    german = read_german()
    said = [match for file in assets.modules() for match in SAID.findall(file.read_text())]
    assert len(said) > 150
    for kind, first, second in said:
        forms: dict[str, list[Any]] = {
            "n": [(first, 0), (first, 1)],
            "p": [f"{first}\x04{second}"],
            "": [first],
        }
        for key in forms[kind]:
            assert german.get(key), key
            assert set(PLACES.findall(german[key])) == set(PLACES.findall(second if kind == "p" else first))


def test_the_pack_says_kinds_and_points_in_the_language_of_the_person(
    client: Client, cast: Cast, house: House
) -> None:
    door = house.housing.door
    orders.open_inspect_order(actor=cast.locksmith, site=cast.north, title="Spring", doors=[door])
    pages = read_german("django")
    said, english = (
        speaking(client, cast.locksmith, language).get("/field/pack/").json()["orders"][0]
        for language in ("de", "en-gb")
    )
    assert words_in(said) == [pages[words] for words in words_in(english)]
    # What acts name is the same in every language.
    assert said["kind"] == english["kind"]
