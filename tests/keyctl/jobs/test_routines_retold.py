"""What routines write down is English, however the house speaks, and reads in the language of who looks."""

import ast
import inspect
import textwrap
from collections.abc import Iterator

import pytest
from django.db import transaction
from django.test import override_settings
from django.utils import translation
from pytest_django import DjangoDbBlocker

from keyctl.jobs import routines
from keyctl.jobs.models import Routine
from keyctl.jobs.routines import routine_kinds, run_by_hand
from keyctl.lib.laws import Law, known_laws
from keyctl.lib.marked import PLACE
from keyctl.lib.retold import known_texts, retold
from tests.cast import gather
from tests.scenes import build_routes

ROUTINES = [kind.name for kind in routine_kinds()]


def in_german(told: str) -> str:
    with translation.override("de"):
        return retold(told)


@pytest.fixture(scope="module")
def rounds(
    tmp_path_factory: pytest.TempPathFactory, django_db_setup: None, django_db_blocker: DjangoDbBlocker
) -> dict[str, Routine]:
    """Each routine done once on a small estate, in a house that speaks German; then all is taken back."""
    folder = tmp_path_factory.mktemp("signed")
    folders = {"CHECKPOINT_DIR": folder / "checkpoints", "HISTORY_KEY_FILE": folder / "history.key"}
    with override_settings(**folders), django_db_blocker.unblock(), transaction.atomic():
        build_routes(gather())
        with translation.override("de"):
            done = {name: run_by_hand(name) for name in ROUTINES}
        transaction.set_rollback(True)
    return done


@pytest.mark.django_db
@pytest.mark.parametrize("name", ROUTINES)
def test_what_a_routine_writes_is_told_again_in_german(name: str, rounds: dict[str, Routine]) -> None:
    told = rounds[name].last_sentence
    assert not rounds[name].failed, told
    assert retold(told) == told
    assert in_german(told) not in {told, ""}


def words_in(node: ast.AST) -> Iterator[str]:
    for part in ast.walk(node):
        if isinstance(part, ast.Constant) and isinstance(part.value, str) and " " in part.value:
            yield part.value


@pytest.mark.parametrize("name", ROUTINES)
def test_no_routine_returns_words_that_no_text_knows(name: str) -> None:
    """Also where today's estate does not lead: a returned literal is none that a translator was given."""
    work = next(kind.work for kind in routine_kinds() if kind.name == name)
    tree = ast.parse(textwrap.dedent(inspect.getsource(work)))
    returned = [node.value for node in ast.walk(tree) if isinstance(node, ast.Return) and node.value]
    assert returned
    assert [words for value in returned for words in words_in(value)] == []


@pytest.mark.parametrize("text", sorted(known_texts()))
def test_no_kept_text_stays_english(text: str) -> None:
    told = PLACE.sub("7", text)
    assert in_german(told) not in {told, ""}
    assert retold(told) == told


@pytest.mark.parametrize(
    "around",
    [
        "14 of 15 laws looked at, 2 breaches. First: {first}",
        "The register does not agree with the copies (North: 2). First: {first}",
        "Findings: 2. First: {first} Keep the database and the checkpoints as they are.",
        "At North: {first}",
    ],
)
def test_every_sentence_is_known_inside_of_another(around: str) -> None:
    """What a sentence begins with must not be taken for a fact of the one inside."""
    outer = in_german(around.format(first="X")).replace("X", "{first}")
    assert outer != around
    for text in known_texts():
        inner = PLACE.sub("7", text)
        assert in_german(around.format(first=inner)) == outer.format(first=in_german(inner))


@pytest.mark.parametrize("law", known_laws(), ids=lambda law: law.name)
def test_laws_and_their_remedies_are_german_for_germans(law: Law) -> None:
    with translation.override("de"):
        assert translation.gettext(law.words) != law.words
        assert translation.gettext(law.remedy) != law.remedy


@pytest.mark.parametrize(
    ("told", "german"),
    [
        (
            "Messages sent: 3, not taken: 0, waiting: 1, given up as too old: 2.",
            "Gesendete Nachrichten: 3, nicht angenommen: 0, wartend: 1, als zu alt aufgegeben: 2.",
        ),
        (
            "No mail server is named (KEYCTL_EMAIL_URL); messages that wait: 4, given up as too old: 2.",
            "Kein Mailserver ist genannt (KEYCTL_EMAIL_URL); wartende Nachrichten: 4, als zu alt "
            "aufgegeben: 2.",
        ),
        (
            "14 of 15 laws looked at, 2 breaches. First: At North site: Copy 12 345 is with another holder "
            "than its line says.",
            "14 von 15 Grundregeln geprüft, Verstöße: 2. Zuerst: Am Standort North site: Exemplar 12 345 ist "
            "bei einem anderen Schlüsselinhaber, als seine Zeile sagt.",
        ),
        (
            "The register does not agree with the copies (North site: 1, South site: 2). First: Key AA1 "
            "(BARE): 4 copies were cut, but 1 are with holders, 1 in cabinets, 0 lost and 1 destroyed.",
            "Das Verzeichnis stimmt nicht mit den Exemplaren überein (North site: 1, South site: 2). Zuerst: "
            "Schlüssel AA1 (BARE): Exemplare geschnitten: 4; bei Schlüsselinhabern: 1, in Schränken: 1, "
            "verloren: 0, vernichtet: 1. Das geht nicht auf.",
        ),
        (
            "Backup a.backup: 7 rows, 9 bytes, read back and compared. Breaches of the laws in the data: 1.",
            "Sicherung a.backup: 7 Zeilen, 9 Byte, zurückgelesen und verglichen. Verstöße gegen die "
            "Grundregeln in den Daten: 1.",
        ),
    ],
)
def test_what_stands_inside_of_a_sentence_is_german_too(told: str, german: str) -> None:
    assert in_german(told) == german


def test_a_fault_of_the_program_is_told_in_german() -> None:
    assert in_german(routines.UNEXPECTED).startswith("Etwas ging schief")
