"""The nightly look finds what was written past the program: each damage below is done in SQL."""

from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone, translation

from keyctl.jobs.routines import run_by_hand
from keyctl.keys.law import breaches, broken_law, check_law
from keyctl.keys.models import Handover, KeyCopy
from keyctl.lib.retold import retold
from keyctl.places.models import Site
from tests import factories
from tests.keyctl.keys.keyroom import KeyRoom

CHECKS = ["key_copy_is_in_exactly_one_state", "custody_end_says_who", "custody_comes_back_by_an_act"]


def without_checks() -> None:
    """Until the test's transaction ends, the database lets everything through."""
    if connection.vendor == "postgresql":
        # It alters no table that has foreign keys still to be checked.
        connection.check_constraints()
        tables = {"key_copy": "keys_keycopy", "custody_": "keys_custody"}
        for check in CHECKS:
            run(f'ALTER TABLE {tables[check[:8]]} DROP CONSTRAINT "{check}"')
    else:
        run("PRAGMA ignore_check_constraints = ON")


def run(sql: str, *parameters: Any) -> None:
    with connection.cursor() as cursor:
        cursor.execute(sql, parameters)


def damage(sql: str, *parameters: Any) -> None:
    """Written past the program; at least one row is hit, or the test tests nothing."""
    with connection.cursor() as cursor:
        cursor.execute(sql, [getattr(each, "hex", each) if sqlite() else each for each in parameters])
        assert cursor.rowcount > 0


def sqlite() -> bool:
    return connection.vendor == "sqlite"


@pytest.fixture
def busy(room: KeyRoom) -> KeyRoom:
    """Copies in each state, lines open and ended, all by the services."""
    for make in (room.held, room.held, room.in_stock, room.lost, room.destroyed):
        make()
    room.take_back(room.held())
    return room


def words() -> str:
    return " ".join(breach.words for breach in breaches(Site.objects.all()))


def one(state: str) -> KeyCopy:
    return KeyCopy.objects.filter(state=state).order_by("serial")[0]


def test_what_the_services_did_agrees(busy: KeyRoom) -> None:
    assert words() == ""
    assert check_law(timezone.now()) == "6 copies and the register agree."


def line_ended_by_hand(room: KeyRoom) -> str:
    copy = one("held")
    damage(
        "UPDATE keys_custody SET ended_at = %s, ended_by_id = %s, ending = 'lost' WHERE copy_id = %s",
        timezone.now(),
        room.desk.pk,
        copy.pk,
    )
    return f"Copy {copy} has no open line in the register"


def copy_put_back_by_hand(room: KeyRoom) -> str:
    copy = one("held")
    damage(
        "UPDATE keys_keycopy SET state = 'in-cabinet', holder_id = NULL, custody_id = NULL, cabinet_id = %s"
        " WHERE id = %s",
        room.cabinet.pk,
        copy.pk,
    )
    return f"Copy {copy} has an open line in the register, though nobody holds it"


def holder_changed_by_hand(room: KeyRoom) -> str:
    copy = one("held")
    other = factories.make_holder(room.site)
    damage("UPDATE keys_keycopy SET holder_id = %s WHERE id = %s", other.pk, copy.pk)
    return f"Copy {copy} is with another holder than its line says"


def line_of_another_copy(_room: KeyRoom) -> str:
    first, second = KeyCopy.objects.filter(state="held").order_by("serial")[:2]
    damage("UPDATE keys_keycopy SET custody_id = NULL WHERE id = %s", second.pk)
    damage("UPDATE keys_keycopy SET custody_id = %s WHERE id = %s", second.custody_id, first.pk)
    return f"Copy {first} has no open line in the register"


def receiver_changed_by_hand(room: KeyRoom) -> str:
    copy = one("held")
    assert copy.custody is not None
    other = factories.make_holder(room.site)
    damage("UPDATE keys_custody SET holder_id = %s WHERE id = %s", other.pk, copy.custody.pk)
    damage("UPDATE keys_keycopy SET holder_id = %s WHERE id = %s", other.pk, copy.pk)
    return f"Copy {copy} has a line that names another holder than the act that was signed"


def lost_and_in_a_cabinet(room: KeyRoom) -> str:
    copy = one("lost")
    damage("UPDATE keys_keycopy SET cabinet_id = %s WHERE id = %s", room.cabinet.pk, copy.pk)
    return f"Copy {copy} is in a state that does not fit where it is"


def state_that_nobody_knows(_room: KeyRoom) -> str:
    damage("UPDATE keys_keycopy SET state = 'melted' WHERE id = %s", one("destroyed").pk)
    return "AA1 (BARE"


def cabinet_of_another_site(room: KeyRoom) -> str:
    copy = one("in-cabinet")
    away = factories.make_cabinet(room.cast.south)
    damage("UPDATE keys_keycopy SET cabinet_id = %s WHERE id = %s", away.pk, copy.pk)
    return f"Copy {copy} is with a holder, or in a cabinet, of another site"


def act_taken_out(room: KeyRoom) -> str:
    back = Handover.objects.get(way="back")
    damage("UPDATE keys_custody SET back_act_id = NULL WHERE back_act_id = %s", back.pk)
    damage("DELETE FROM keys_handover WHERE id = %s", back.pk)
    return "The desk numbered 4 acts, but 3 are kept"


def line_unhooked(room: KeyRoom) -> str:
    copy = one("held")
    damage("UPDATE keys_keycopy SET custody_id = NULL WHERE id = %s", copy.pk)
    return f"Copy {copy} has no open line in the register"


DAMAGES: list[Callable[[KeyRoom], str]] = [
    line_ended_by_hand,
    copy_put_back_by_hand,
    holder_changed_by_hand,
    line_of_another_copy,
    receiver_changed_by_hand,
    lost_and_in_a_cabinet,
    state_that_nobody_knows,
    cabinet_of_another_site,
    act_taken_out,
    line_unhooked,
]


def assert_german(told: list[str]) -> None:
    with translation.override("de"):
        for words in told:
            german = retold(words)
            assert german != words
            assert retold(f"At North: {words}") == f"Am Standort North: {german}"


@pytest.mark.parametrize("do", DAMAGES, ids=lambda do: do.__name__)
def test_damage_is_found_and_said(busy: KeyRoom, do: Callable[[KeyRoom], str]) -> None:
    without_checks()
    try:
        said = do(busy)
        assert said in words()
        # Each site asked everything: what tells sites apart overlooks none.
        told = [f"At {each.site}: {each.words}" for each in breaches(Site.objects.all())]
        assert told == list(broken_law())
        assert_german([each.words for each in breaches(Site.objects.all())])
        assert "does not agree with the copies (North site: " in check_law(timezone.now())
    finally:
        if sqlite():
            run("PRAGMA ignore_check_constraints = OFF")


def test_the_routine_says_it(busy: KeyRoom) -> None:
    copy = one("held")
    damage(
        "UPDATE keys_keycopy SET holder_id = %s WHERE id = %s", factories.make_holder(busy.site).pk, copy.pk
    )
    ran = run_by_hand("keys.law")
    assert not ran.failed
    assert f"First: Copy {copy} is with another holder" in ran.last_sentence


def test_a_sound_register_is_asked_as_often_however_large_it_is(busy: KeyRoom) -> None:
    counted = []
    for more in (0, 40):
        for _ in range(more):
            busy.held()
        with CaptureQueriesContext(connection) as queries:
            assert breaches(Site.objects.all()) == []
        counted.append(len(queries))
        factories.make_holder(factories.make_site())
    assert counted == [6, 6]
