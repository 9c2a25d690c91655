"""Keys that other features add to a system: stored sealed, all or none, with one event."""

import re
from collections.abc import Sequence

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404

from keyctl.audit.models import Event
from keyctl.lib.errors import Refused
from keyctl.systems import newcomers
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.selectors import tops_of
from keyctl.systems.services import NewKey, add_symbols, bitting_of, open_system
from tests import factories
from tests.cast import Cast

MASTER, CHANGE = KeySymbol.Kind.MASTER, KeySymbol.Kind.CHANGE
CHARTED = KeySymbol.Origin.CHARTED
TWO_TREES = [
    NewKey("A", MASTER, "1111111", None, 0, 0),
    NewKey("B", MASTER, "3333333", None, 0, 1),
    NewKey("AA1", CHANGE, "1111113", "A", 1, 0),
    NewKey("BA1", CHANGE, "3333331", "B", 1, 0),
]


@pytest.fixture
def system(cast: Cast) -> KeySystem:
    return open_system(
        actor=cast.locksmith,
        sites=[cast.north],
        code="OLD",
        name="Old keys",
        format_id="small-a2-7",
        keyway="W1",
        levels=6,
        control="2222222",
    )


def add(cast: Cast, system: KeySystem, *entries: NewKey) -> list[KeySymbol]:
    return add_symbols(actor=cast.locksmith, system=system, entries=entries, origin=CHARTED)


def test_a_system_without_a_design_holds_several_trees(cast: Cast, system: KeySystem) -> None:
    made = add(cast, system, *TWO_TREES)
    assert system.design is None
    assert [top.symbol for top in tops_of(system)] == ["A", "B"]
    assert {str(key): str(key.parent) for key in made if key.parent} == {"AA1": "A", "BA1": "B"}
    assert [bitting_of(key) for key in made] == ["1111111", "3333333", "1111113", "3333331"]
    assert {key.origin for key in made} == {"charted"}
    assert bitting_of(system.symbols.get(symbol="CTR")) == "2222222"


def test_one_event_tells_of_them_and_shows_no_bitting(cast: Cast, system: KeySystem) -> None:
    add(cast, system, *TWO_TREES)
    event = Event.objects.filter(verb="system.extended").get()
    assert event.sentence == "added 4 keys to the key system OLD (worked out from a lock chart)"
    assert "1111111" not in f"{event.sentence}{event.detail}"


def test_who_keeps_something_by_the_keys_is_told(
    cast: Cast, system: KeySystem, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: list[Sequence[KeySymbol]] = []
    monkeypatch.setattr(newcomers, "_listeners", [told.append])
    made = add(cast, system, *TWO_TREES)
    assert told == [made]


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        (NewKey("A", MASTER, "5555555", None, 0, 5), "A and A, which is there already, have the same symbol"),
        (NewKey("C", MASTER, "1111111", None, 0, 5), "C and A, which is there already, are the same key"),
        (NewKey("AA9", CHANGE, "1111115", "A", 1, 0), "AA9 and AA1, .* have the same number under"),
    ],
)
def test_a_key_that_is_there_already_is_refused_by_name(
    cast: Cast, system: KeySystem, entry: NewKey, words: str
) -> None:
    add(cast, system, *TWO_TREES)
    with pytest.raises(Refused) as refused:
        add(cast, system, NewKey("D", MASTER, "7777777", None, 0, 6), entry)
    assert any(re.match(words, reason) for reason in refused.value.reasons)
    assert not system.symbols.filter(symbol="D").exists()


def test_keys_given_twice_are_refused(cast: Cast, system: KeySystem) -> None:
    with pytest.raises(Refused, match="given twice") as refused:
        add(cast, system, NewKey("A", MASTER, "1111111", None, 0), NewKey("B", MASTER, "1111111", None, 0))
    assert refused.value.reasons == ("B and A are the same key.",)


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        (NewKey("AA1", CHANGE, "1111113", "Q", 1, 0), "AA1 stands under Q, which is no key of the system"),
        (NewKey("AA1", CHANGE, "1111113", None, 2, 0), "AA1 stands on level 0"),
        (NewKey("AA1", CHANGE, "11111", None, 0, 0), "AA1: no key of this format"),
    ],
)
def test_a_key_without_its_place_or_its_cuts_is_refused(
    cast: Cast, system: KeySystem, entry: NewKey, words: str
) -> None:
    with pytest.raises(Refused, match=words) as refused:
        add(cast, system, entry)
    assert entry.bitting not in str(refused.value.sentences)


def test_only_who_works_with_keys_adds_them(cast: Cast, system: KeySystem) -> None:
    for actor in (cast.desk, cast.manager, cast.officer, cast.auditor, cast.requester):
        with pytest.raises(PermissionDenied):
            add_symbols(actor=actor, system=system, entries=TWO_TREES, origin=CHARTED)
    with pytest.raises(Http404):
        add_symbols(actor=cast.stranger, system=system, entries=TWO_TREES, origin=CHARTED)


def test_a_control_key_without_a_sleeve_is_refused(cast: Cast) -> None:
    with pytest.raises(Refused, match="no control sleeve"):
        open_system(
            actor=cast.locksmith,
            sites=[cast.north],
            code="F",
            name="F",
            format_id="fixed-6",
            keyway="W1",
            levels=2,
            control="111111",
        )


def test_a_code_is_taken_once(cast: Cast, system: KeySystem) -> None:
    with pytest.raises(Refused, match="There is a key system OLD already"):
        factories.make_system(cast.north, actor=cast.administrator, code="OLD")
