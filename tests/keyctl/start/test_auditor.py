"""What an auditor reads in the morning: how the evidence stands."""

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from keyctl.cores.services import pins_to_show
from keyctl.jobs.models import Routine
from keyctl.operations import first_page as of_installation
from keyctl.places.roles import Role
from keyctl.reveals.services import reveal_one
from keyctl.start.selectors import first_page
from keyctl.vault import services as vault
from tests import factories
from tests.cast import Cast
from tests.keyctl.counts.countroom import CountRoom, set_up
from tests.keyctl.start.reading import block, said, words_of
from tests.permits import permit
from tests.signing import proven

HISTORY, COUNTS, LOOKED = "Is the history sound?", "What was counted last?", "What was looked at"


@pytest.fixture
def room(cast: Cast) -> CountRoom:
    return set_up(cast)


@pytest.fixture(autouse=True)
def folder(settings: Any, tmp_path: Path) -> Path:
    settings.CHECKPOINT_DIR = tmp_path
    return tmp_path


def signed(folder: Path, size: int, hours: float) -> None:
    """As much of a checkpoint as the page reads."""
    at = (timezone.now() - timedelta(hours=hours)).isoformat()
    (folder / f"{size:012}.json").write_text(f'{{"size": {size}, "at": "{at}"}}')


def test_the_history_stands_first(cast: Cast) -> None:
    (part, *_others) = first_page(cast.auditor).parts
    assert part.blocks[0].question == HISTORY


def test_what_was_never_signed_is_told(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    assert block(cast.auditor, HISTORY).lines[0].about == "There is no history yet."
    monkeypatch.setattr(of_installation, "_entries", lambda: 4)
    assert said(block(cast.auditor, HISTORY))[0] == ("Last signed checkpoint", "Not signed")


@pytest.mark.parametrize("case", [(0.5, 10, "Signed"), (5, 10, "Late"), (5, 7, "Signed")])
def test_a_signature_is_late_where_entries_came_since(
    cast: Cast, folder: Path, monkeypatch: pytest.MonkeyPatch, case: tuple[float, int, str]
) -> None:
    hours, entries, words = case
    signed(folder, 3, hours + 100)
    signed(folder, 7, hours)
    monkeypatch.setattr(of_installation, "_entries", lambda: entries)
    first = block(cast.auditor, HISTORY).lines[0]
    assert first.mark
    assert first.mark.words == words
    assert f"{entries - 7} entr" in first.about


def test_a_checkpoint_that_cannot_be_read_is_told(cast: Cast, folder: Path) -> None:
    (folder / f"{9:012}.json").write_text("half of it")
    assert said(block(cast.auditor, HISTORY))[0] == ("Last signed checkpoint", "Cannot be read")


def test_the_checks_of_the_history_say_what_they_found_and_when(cast: Cast) -> None:
    now = timezone.now()
    Routine.objects.create(
        name="history.check",
        next_at=now,
        last_run_at=now - timedelta(hours=3),
        ended_at=now,
        last_sentence="Nothing was found.",
    )
    Routine.objects.create(
        name="history.check-whole", next_at=now, last_run_at=now, ended_at=now, failed=True
    )
    found = {line.what: line for line in block(cast.auditor, HISTORY).lines}
    assert found["Check what is new in the history"].about == "3 hours ago. Nothing was found."
    mark = found["Check the whole history"].mark
    assert mark
    assert mark.words == "Failed"


def test_the_last_counts_say_what_was_missing(room: CountRoom) -> None:
    room.missing()
    room.close(room.begin(cabinet=room.other, scope="cabinet"))
    assert [mark for _what, mark in said(block(room.cast.auditor, COUNTS))] == [
        "No difference",
        "1 difference",
    ]


def test_an_open_count_is_no_evidence_yet(room: CountRoom) -> None:
    room.begin()
    assert not block(room.cast.auditor, COUNTS).lines


def test_the_auditor_of_another_site_reads_none_of_it(room: CountRoom) -> None:
    room.missing()
    other = factories.make_user("far-auditor", site=room.cast.south, role=Role.AUDITOR)
    assert not block(other, COUNTS).lines


def test_looks_of_a_week_are_told_without_what_was_seen(cast: Cast, client: Client) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system)
    permit("core", core, to=cast.locksmith, by=cast.officer)
    reveal_one(actor=cast.locksmith, sign_in=proven(cast.locksmith), wanted=lambda: pins_to_show(core))
    found = block(cast.auditor, LOOKED)
    assert found.total == 1
    assert "Locksmith at North site" in found.lines[0].about
    assert vault.unseal(core, "pinning") not in words_of(client, cast.auditor)


def test_an_empty_morning_is_said_in_words(cast: Cast, client: Client) -> None:
    page = words_of(client, cast.auditor)
    for sentence in (
        "No count of keys was ever finished.",
        "Nobody looked at a secret in the last seven days.",
        "Every difference of a count is closed.",
    ):
        assert sentence in page
