"""What formats are called: the package's in the language of the page, a shop's own as written."""

import pytest
from django.test import Client
from django.utils.translation import override

from keyctl import engine
from keyctl.formats.naming import name_of
from keyctl.formats.source import built_in_names
from tests.cast import Cast
from tests.keyctl.formats.shop import make


def test_every_format_of_the_package_has_a_german_name() -> None:
    with override("de"):
        said = {name: name_of(engine.load_format(name)) for name in built_in_names()}
    untold = [name for name, words in said.items() if words == built_in_names()[name] or "{" in words]
    assert untold == []
    assert said["small-a2-7"] == "Kleinformatkern, System A2, 7 Positionen"
    assert len(set(said.values())) == len(said)


def test_in_english_they_are_called_as_the_package_calls_them() -> None:
    assert {name: name_of(engine.load_format(name)) for name in built_in_names()} == built_in_names()


@pytest.mark.parametrize("name", ["Nought is ten", "Padlock core"])
def test_a_shops_own_name_stays_as_it_was_written(cast: Cast, client: Client, name: str) -> None:
    make(cast.administrator, "own-ten", name=name)
    cast.locksmith.language = "de"
    cast.locksmith.save()
    client.force_login(cast.locksmith)
    page = client.get("/formats/").content.decode()
    assert f">{name}</a>" in page
    assert "Kleinformatkern, System A2, 7 Positionen" in page
