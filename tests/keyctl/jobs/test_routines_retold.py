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


@pytest.mark.parametrize("law", known_laws(), ids=lambda law: law.name)
def test_laws_and_their_remedies_are_german_for_germans(law: Law) -> None:
    with translation.override("de"):
        assert translation.gettext(law.words) != law.words
        assert translation.gettext(law.remedy) != law.remedy


def test_a_fault_of_the_program_is_told_in_german() -> None:
    assert in_german(routines.UNEXPECTED).startswith("Etwas ging schief")
