"""Versions are taken by hand and whenever keys were added: one for an act."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404

from keyctl.audit.models import Event
from keyctl.lib.errors import Refused
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.services import NewKey, add_symbols, bitting_of
from keyctl.versions.models import SystemVersion
from keyctl.versions.picture import packed, picture_of, unpacked
from keyctl.versions.services import take_version
from tests import factories
from tests.cast import Cast

Committing = Callable[..., AbstractContextManager[list[Any]]]
# Legal seven-cut bittings that no small test system draws by chance under the fixed seed.
FREE = ("5555555", "3535353", "7575757", "1313131", "9797979", "5757575")


def a_system(cast: Cast) -> KeySystem:
    return factories.make_system(cast.north, actor=cast.administrator)


def extend(cast: Cast, system: KeySystem, *cuts: str, actor: Any = None) -> list[KeySymbol]:
    parent = factories.symbol(system, "AA")
    first = parent.children.count()
    entries = [
        NewKey(f"AA{first + n + 1}", KeySymbol.Kind.CHANGE, cut, "AA", level=2, ordinal=first + n)
        for n, cut in enumerate(cuts)
    ]
    return add_symbols(
        actor=actor or cast.locksmith, system=system, entries=entries, origin=KeySymbol.Origin.EXTENDED
    )


def test_a_version_counts_up_and_says_who_and_why(cast: Cast) -> None:
    system = a_system(cast)
    first = take_version(actor=cast.locksmith, system=system, why=" Before the works ")
    second = take_version(actor=cast.manager, system=system, why="After")
    assert (first.number, second.number) == (1, 2)
    assert (first.why, first.made_by, first.occasion) == ("Before the works", cast.locksmith, "by-hand")
    assert (first.keys, first.cores) == (system.symbols.count(), 0)
    event = Event.objects.filter(verb="system.version-taken").latest("at")
    assert event.sentence == f"took version 2 of the key system {system.code}"


def test_it_needs_a_reason(cast: Cast) -> None:
    with pytest.raises(Refused):
        take_version(actor=cast.locksmith, system=a_system(cast), why="  ")
    assert not SystemVersion.objects.exists()


@pytest.mark.parametrize(
    ("who", "refusal"),
    [
        ("stranger", Http404),
        ("requester", PermissionDenied),
        ("desk", PermissionDenied),
        ("auditor", PermissionDenied),
    ],
)
def test_others_do_not_take_one(cast: Cast, who: str, refusal: type[Exception]) -> None:
    system = a_system(cast)
    with pytest.raises(refusal):
        take_version(actor=getattr(cast, who), system=system, why="To see")


def test_the_picture_is_read_again_as_it_was(cast: Cast) -> None:
    system = a_system(cast)
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system)
    housing = factories.make_housing(cast.north, door=factories.make_door(cast.north, name="Boiler room"))
    factories.install(core, housing)
    picture = picture_of(system)
    assert unpacked(packed(picture)) == picture
    (kept,) = picture.cores.values()
    assert kept.place == f"{housing.door.building.code} {housing.door.number} Boiler room"
    assert kept.keyed_to == {str(factories.change_key(system))}
    turned = {turn.symbol.symbol: (turn.operates, turn.withdraws) for turn in core.turns.all()}
    assert {symbol: (bool(effect & 1), bool(effect & 2)) for symbol, effect in kept.turns.items()} == turned
    parents = {key.symbol: key.parent.symbol if key.parent else "" for key in system.symbols.all()}
    assert {key.symbol: key.parent for key in picture.keys.values()} == parents


def test_no_bitting_is_in_a_version(cast: Cast) -> None:
    import zlib

    system = a_system(cast)
    factories.make_core(actor=cast.locksmith, site=cast.north, system=system)
    version = take_version(actor=cast.locksmith, system=system, why="To look into it")
    text = zlib.decompress(bytes(version.content)).decode()
    assert "AA1" in text
    assert not [key for key in system.symbols.all() if bitting_of(key) in text]


def test_the_design_of_a_system_is_its_first_version(
    cast: Cast, django_capture_on_commit_callbacks: Committing
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        system = a_system(cast)
    version = system.versions.get()
    assert (version.number, version.occasion, version.made_by) == (1, "keys-added", cast.administrator)
    assert version.keys == system.symbols.count()
    assert "designed the key system" in version.why


def test_an_act_keeps_one_version_and_a_day_of_single_keys_too(
    cast: Cast, django_capture_on_commit_callbacks: Committing
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        system = a_system(cast)
    with django_capture_on_commit_callbacks(execute=True):
        extend(cast, system, *FREE[:3])
    assert [version.number for version in system.versions.all()] == [2, 1]
    with django_capture_on_commit_callbacks(execute=True):
        extend(cast, system, FREE[3])
    last = system.versions.all()[0]
    assert (last.number, last.keys, last.made_by) == (2, system.symbols.count(), cast.locksmith)
    with django_capture_on_commit_callbacks(execute=True):
        extend(cast, system, FREE[4], actor=cast.administrator)
    assert system.versions.all()[0].number == 3


def test_two_tellings_in_one_act_keep_one_version(
    cast: Cast, django_capture_on_commit_callbacks: Committing
) -> None:
    from keyctl.versions.services import keep_after_adding

    system = a_system(cast)
    with django_capture_on_commit_callbacks(execute=True):
        added = extend(cast, system, FREE[0])
        keep_after_adding(added)
    assert system.versions.count() == 1


def test_a_version_taken_by_hand_is_never_brought_up_to_date(
    cast: Cast, django_capture_on_commit_callbacks: Committing
) -> None:
    system = a_system(cast)
    by_hand = take_version(actor=cast.locksmith, system=system, why="Before")
    with django_capture_on_commit_callbacks(execute=True):
        extend(cast, system, FREE[0])
    by_hand.refresh_from_db()
    assert (by_hand.keys, system.versions.count()) == (system.symbols.count() - 1, 2)


def test_an_act_that_is_undone_keeps_none(cast: Cast, django_capture_on_commit_callbacks: Committing) -> None:
    system = a_system(cast)
    with django_capture_on_commit_callbacks(execute=True), pytest.raises(Refused):
        extend(cast, system, FREE[0], FREE[0])
    assert not system.versions.exists()
