"""Each law sees: it is broken behind the product's back, and the look names it, the place and the remedy."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from io import StringIO
from typing import Any
from uuid import UUID

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, transaction
from django.utils import translation

from keyctl.audit import guards
from keyctl.cores.models import Core
from keyctl.keys.models import KeyCopy
from keyctl.lib.laws import known_laws, register_law
from keyctl.lib.retold import retold
from keyctl.notices.models import Notice
from keyctl.operations.estate import checking, deeper
from keyctl.operations.looking import MOST_NAMED, Outcome, look_at_everything
from keyctl.operations.models import EstateCheck
from keyctl.vault import ring
from tests.keyctl.operations.conftest import Estate


def run(sql: str, *values: Any) -> None:
    with connection.cursor() as cursor:
        cursor.execute(sql, values)


def hex_of(pk: UUID | None) -> str:
    return pk.hex if pk else ""


@contextmanager
def undone() -> Iterator[None]:
    """In a transaction that is taken back, with what SQLite would check left off."""
    with transaction.atomic():
        run("PRAGMA ignore_check_constraints = ON")
        yield
        transaction.set_rollback(True)
    run("PRAGMA ignore_check_constraints = OFF")


def a_core_in_two_places() -> str:
    core = Core.objects.filter(place="housing")[0]
    run("UPDATE cores_core SET place = 'shelf' WHERE id = %s", core.pk.hex)
    return f"cores_core {core.pk}: forbidden by core_is_in_exactly_one_place"


def two_cores_in_a_housing() -> str:
    housed, other = Core.objects.filter(place="housing")[0], Core.objects.filter(place="shelf")[0]
    run("DROP INDEX housing_holds_at_most_one_core")
    run(
        "UPDATE cores_core SET place = 'housing', housing_id = %s WHERE id = %s",
        hex_of(housed.housing_id),
        other.pk.hex,
    )
    return "2 rows where housing_holds_at_most_one_core allows one"


def a_constraint_lifted() -> str:
    run("DROP INDEX housing_holds_at_most_one_core")
    return "cores_core has lost its constraint housing_holds_at_most_one_core"


def a_door_taken_out() -> str:
    core = Core.objects.filter(place="housing")[0]
    run("DELETE FROM places_housing WHERE id = %s", hex_of(core.housing_id))
    return f"cores_core {core.pk}: its housing is not there"


def a_copy_that_vanished() -> str:
    copy = KeyCopy.objects.filter(cabinet__isnull=False)[0]
    run("UPDATE keys_keycopy SET cabinet_id = NULL WHERE id = %s", copy.pk.hex)
    return "in a state that does not fit where it is"


def a_core_of_another_site_in_a_door() -> str:
    core = Core.objects.filter(place="housing")[0]
    run(
        "UPDATE cores_core SET site_id = (SELECT id FROM places_site WHERE code = 'SOUTH') WHERE id = %s",
        core.pk.hex,
    )
    return f"Core {core} is in "


def a_decision_of_ones_own() -> str:
    run("UPDATE approvals_step SET decided_by_id = asked_by_id, state = 'approved'")
    return "it was decided by who asked"


def a_step_that_names_another_asker() -> str:
    run("UPDATE approvals_step SET asked_by_id = (SELECT id FROM accounts_user WHERE username = 'auditor')")
    return "it names other people than the request"


def a_master_out_by_who_decided() -> str:
    run("UPDATE approvals_grant SET is_master = 1, handed_out_by_id = approved_by_id")
    return "who decided about a master handed it out"


def pins_that_nobody_moved() -> str:
    run("UPDATE stock_pinbin SET count = coalesce(count, 0) + 1")
    return "its movements say"


def a_dispute_without_a_case() -> str:
    run("UPDATE field_casecore SET is_open = 0")
    run("UPDATE cores_core SET disputed_at = '2026-01-01', disputed_over = 'case 9' WHERE place = 'shelf'")
    return "is disputed, and no open case names it"


def an_event_rewritten() -> str:
    guards.remove(connection)
    run("UPDATE audit_event SET sentence = 'did nothing' WHERE id = 3")
    guards.install(connection)
    return "entry 3"


def a_trigger_lifted() -> str:
    run("DROP TRIGGER audit_event_keeps_update")
    return "audit_event_keeps_update: it is missing"


def bittings_exchanged() -> str:
    one, other = Core.objects.filter(pinning__isnull=False)[:2]
    run("UPDATE cores_core SET pinning = %s WHERE id = %s", other.pinning, one.pk.hex)
    return f"cores_core {one.pk} pinning: the sealed value does not open"


def a_key_that_turns_more() -> str:
    run("UPDATE cores_turn SET withdraws = NOT withdraws, operates = 1")
    return "keys turn it otherwise than is kept"


BREACHES: list[tuple[str, Callable[[], str]]] = [
    ("database.rows", a_core_in_two_places),
    ("database.rows", two_cores_in_a_housing),
    ("database.constraints", a_constraint_lifted),
    ("database.references", a_door_taken_out),
    ("keys.register", a_copy_that_vanished),
    ("cores.housings", a_core_of_another_site_in_a_door),
    ("approvals.two_people", a_decision_of_ones_own),
    ("approvals.two_people", a_step_that_names_another_asker),
    ("approvals.two_people", a_master_out_by_who_decided),
    ("stock.bins", pins_that_nobody_moved),
    ("field.disputes", a_dispute_without_a_case),
    ("history.chain", an_event_rewritten),
    ("history.chain", a_trigger_lifted),
    ("vault.opens", bittings_exchanged),
    ("cores.turns", a_key_that_turns_more),
    ("database.file", a_core_in_two_places),
]


def only(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    from keyctl.lib import laws

    monkeypatch.setattr(laws, "_laws", {name: laws._laws[name]})


@pytest.mark.parametrize(("law", "breach"), BREACHES, ids=lambda each: getattr(each, "__name__", each))
def test_a_breach_is_seen_by_its_law(
    law: str, breach: Callable[[], str], estate: Estate, monkeypatch: pytest.MonkeyPatch
) -> None:
    only(law, monkeypatch)
    with undone():
        expected = breach()
        if law == "database.file":
            run("PRAGMA ignore_check_constraints = OFF")
            expected = "CHECK constraint failed in cores_core"
        outcome = look_at_everything()
    named = [sentence for each in outcome.breached for sentence in each.named]
    assert [each.law.name for each in outcome.breached] == [law]
    assert any(expected in sentence for sentence in named), named
    assert outcome.breached[0].law.remedy
    with translation.override("de"):
        assert [sentence for sentence in named if retold(sentence) == sentence] == []


def test_every_law_is_broken_by_one_of_these_tests() -> None:
    assert {law for law, _ in BREACHES} >= {law.name for law in known_laws()} - BROKEN_ELSEWHERE


# By the tests of the app that named it.
BROKEN_ELSEWHERE = {"reveals.grounds"}


def test_a_sound_estate_breaks_none_and_is_told(estate: Estate) -> None:
    said = StringIO()
    call_command("check_estate", stdout=said)
    number = len(known_laws())
    assert f"{number} of {number} laws looked at, 0 breaches." in said.getvalue()
    kept = EstateCheck.objects.latest("at")
    assert (kept.number, kept.laws, kept.breaches, kept.left_out) == (0, number, [], {})
    assert not Notice.objects.filter(kind="estate.breached").exists()


def test_a_breach_ends_with_one_and_reaches_who_answers(
    estate: Estate, monkeypatch: pytest.MonkeyPatch
) -> None:
    only("stock.bins", monkeypatch)
    bin_pk = factories_bin(estate)
    run("UPDATE stock_pinbin SET count = 5 WHERE id = %s", bin_pk)
    said = StringIO()
    with pytest.raises(CommandError, match="1 breaches"):
        call_command("check_estate", stdout=said)
    assert "Remedy: Count the bin" in said.getvalue()
    told = Notice.objects.filter(kind="estate.breached")
    assert {notice.to for notice in told} == {estate.cast.officer.email, estate.cast.administrator.email}
    assert "A bin holds what its movements add up to (1)" in told[0].body
    # Once a day, however often it is looked at.
    number = told.count()
    assert "First: " in checking.check_every_night(EstateCheck.objects.latest("at").at)
    assert told.count() == number
    run("UPDATE stock_pinbin SET count = NULL WHERE id = %s", bin_pk)


def factories_bin(estate: Estate) -> str:
    from keyctl.stock.models import PinBin

    made = PinBin.objects.create(site=estate.cast.north, family="small", role="top", size=78, count=0)
    return made.pk.hex


def test_without_the_vault_key_the_rest_is_looked_at(estate: Estate, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("KEYCTL_VAULT_KEY", "")
    ring.forget()
    outcome = look_at_everything()
    assert outcome.number == 0
    assert set(outcome.left_out) == {"vault.opens", "cores.turns"}
    assert "were counted and not opened" in outcome.left_out["vault.opens"]
    with translation.override("de"):
        assert [why for why in outcome.left_out.values() if retold(why) == why] == []


def test_many_breaches_are_counted_and_some_named(monkeypatch: pytest.MonkeyPatch, estate: Estate) -> None:
    from keyctl.lib import laws

    monkeypatch.setattr(laws, "_laws", {})
    register_law("a.b", "Nothing is there", lambda: (f"thing {n}" for n in range(1000)), "Take it away.")
    outcome = look_at_everything()
    assert outcome.number == 1000
    assert len(outcome.breached[0].named) == MOST_NAMED
    assert outcome.breached[0].sentences[-1] == f"{1000 - MOST_NAMED} more like these."


def test_a_law_that_cannot_read_is_a_finding(estate: Estate, monkeypatch: pytest.MonkeyPatch) -> None:
    only("keys.register", monkeypatch)
    with undone():
        run("DROP TABLE keys_custody")
        outcome: Outcome = look_at_everything()
    assert "cannot be read at all" in outcome.breached[0].named[0]
    with translation.override("de"):
        assert retold(outcome.breached[0].named[0]).startswith("Daten hier lassen sich gar nicht lesen")


def test_what_a_german_looks_at_is_kept_in_english(estate: Estate, monkeypatch: pytest.MonkeyPatch) -> None:
    only("keys.register", monkeypatch)
    with undone(), translation.override("de"):
        a_copy_that_vanished()
        named = look_at_everything().breached[0].named
        told = [retold(sentence) for sentence in named]
    assert any("in a state that does not fit where it is" in sentence for sentence in named)
    assert any("in einem Zustand" in sentence and sentence.startswith("Am Standort") for sentence in told)


def test_turns_are_tried_by_sample(estate: Estate, monkeypatch: pytest.MonkeyPatch) -> None:
    """With a sample of one, a breach at every core is still seen; with none nothing is."""
    run_with = {1: 1, 0: 0}
    for sample, families in run_with.items():
        monkeypatch.setattr(deeper, "SAMPLE", sample)
        with undone():
            a_key_that_turns_more()
            assert bool(list(deeper.wrong_turns())) is bool(families)
