"""A table of cores: registered and moved by the rules of their pages; pins come by no list."""

import pytest

from keyctl.cores.models import Core
from keyctl.places.models import Housing
from keyctl.systems.models import KeySystem
from tests import factories
from tests.cast import Cast
from tests.keyctl.imports.files import faults, kept, taken, tried, undone

pytestmark = pytest.mark.django_db

HEADER = ["Tag", "System", "Keyed to", "Format", "Place", "Building", "Door", "Lock"]
CORES = {"kind": "cores", "header": HEADER}


@pytest.fixture
def system(cast: Cast) -> KeySystem:
    return factories.make_system(cast.north, actor=cast.locksmith, code="KS9")


def housing(cast: Cast, number: str = "101") -> Housing:
    return factories.make_housing(door=factories.make_door(cast.north, number=number))


def test_cores_come_in_where_they_are(cast: Cast, system: KeySystem) -> None:
    lock = housing(cast)
    rows = [
        ["BCDF-2345-GHJK", "ks9", "AA1", "", "", "", "101", ""],
        ["", "KS9", "AA1, ab1", "", "shelf", "", "", ""],
        ["BCDF2345GHJM", "", "", "small-a2-6", "bench", "", "", ""],
    ]
    imported = taken(cast.locksmith, cast.north, rows, **CORES)
    assert faults(imported) == []
    found = Core.objects.get(tag="BCDF2345GHJK")
    assert (found.housing, found.place, found.system, found.is_pinned) == (lock, "housing", system, False)
    assert {symbol.symbol for symbol in found.keyed_to.all()} == {"AA1"}
    cross = Core.objects.get(place="shelf")
    assert {symbol.symbol for symbol in cross.keyed_to.all()} == {"AA1", "AB1"}
    plain = Core.objects.get(tag="BCDF2345GHJM")
    assert (plain.system, plain.construction) == (None, "small-format")
    undone(cast.locksmith, imported)
    assert not Core.objects.exists()


@pytest.mark.parametrize(
    ("row", "column", "words"),
    [
        (["A-1", "KS9", "AA1", "", "", "", "", ""], "Tag", "A tag has 6 to 16 signs"),
        (["583642", "KS9", "AA1", "", "", "", "", ""], "Tag", "not digits alone"),
        (["", "KS8", "AA1", "", "", "", "", ""], "System", "No key system"),
        (["", "KS9", "", "", "", "", "", ""], "Keyed to", "Say what the core is keyed to"),
        (["", "KS9", "ZZ9", "", "", "", "", ""], "Keyed to", "no key of this symbol"),
        (["", "", "", "", "bench", "", "", ""], "System", "neither a key system nor a core format"),
        (["", "", "", "round", "", "", "", ""], "Format", "No core format"),
        (["", "KS9", "AA1", "small-a2-6", "", "", "", ""], "Format", "another key system or format"),
        (["", "KS9", "AA1", "", "moon", "", "", ""], "Place", "Write one of"),
        (["", "KS9", "AA1", "", "", "", "999", ""], "Door", "No lock of this site"),
        (["", "KS9", "CTR", "", "", "", "", ""], "", "control key"),
    ],
)
def test_an_error_names_its_cell(
    cast: Cast, system: KeySystem, row: list[str], column: str, words: str
) -> None:
    [(_, place, sentence)] = faults(tried(cast.locksmith, cast.north, [row], **CORES))
    assert (place, words in sentence) == (column, True), sentence


def test_a_lock_takes_one_core(cast: Cast, system: KeySystem) -> None:
    housing(cast)
    rows = [["", "KS9", "AA1", "", "", "", "101", ""]] * 2
    imported = tried(cast.locksmith, cast.north, rows, **CORES)
    assert [(row, column) for row, column, _ in faults(imported)] == [(3, "Door")]


def test_a_core_that_does_not_fit_its_door_is_told(cast: Cast) -> None:
    housing(cast)
    system = factories.make_system(
        cast.north,
        actor=cast.locksmith,
        code="FX",
        format_id="fixed-6",
        levels=(((1,), 1), ((2,), 1)),
    )
    name = factories.change_key(system).symbol
    rows = [["", "FX", name, "", "", "", "101", ""]]
    [(_, _, sentence)] = faults(tried(cast.locksmith, cast.north, rows, **CORES))
    assert "construction" in sentence


def test_a_core_on_record_moves_by_the_rules_of_its_page(cast: Cast, system: KeySystem) -> None:
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system, pinned=False)
    inside = factories.install(
        factories.make_core(actor=cast.locksmith, site=cast.north, system=system), housing(cast)
    )
    rows = [
        [core.tag, "", "", "", "gone", "", "", ""],
        [inside.tag, "", "", "", "shelf", "", "", ""],
    ]
    imported = tried(cast.locksmith, cast.north, rows, **CORES)
    [(row, _, sentence)] = faults(imported)
    assert (row, "swap order" in sentence) == (3, True)
    imported = taken(cast.locksmith, cast.north, rows[:1], **CORES)
    core.refresh_from_db()
    assert core.place == Core.Place.GONE
    version = core.version
    undone(cast.locksmith, imported)
    core.refresh_from_db()
    assert (core.place, core.version > version) == (Core.Place.BENCH, True)


def test_what_a_core_is_keyed_to_is_set_back(cast: Cast, system: KeySystem) -> None:
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system, pinned=False)
    before = set(core.keyed_to.values_list("symbol", flat=True))
    imported = taken(cast.locksmith, cast.north, [[core.tag, "KS9", "AB2", "", "", "", "", ""]], **CORES)
    assert set(core.keyed_to.values_list("symbol", flat=True)) == {"AB2"}
    undone(cast.locksmith, imported)
    assert set(core.keyed_to.values_list("symbol", flat=True)) == before


def test_a_core_that_was_pinned_since_stays(cast: Cast, system: KeySystem) -> None:
    from keyctl.cores.services import pin_core

    imported = taken(cast.locksmith, cast.north, [["", "KS9", "AA1", "", "", "", "", ""]], **CORES)
    core = Core.objects.get()
    pin_core(actor=cast.locksmith, core=core, version=core.version)
    undone(cast.locksmith, imported)
    [(_, reason)] = kept(imported)
    assert "changed since" in reason
    assert Core.objects.get().is_pinned


def test_no_row_says_what_stands_in_a_wrong_column(cast: Cast, system: KeySystem) -> None:
    """Where columns are mixed up a cell may hold cuts: no finding quotes it."""
    rows = [["3614927", "KS9", "5836142", "7052783", "1234567", "", "", ""]]
    imported = tried(cast.locksmith, cast.north, rows, **CORES)
    told = " ".join(sentence for _, _, sentence in faults(imported))
    assert told
    assert not any(cuts in told for cuts in ("3614927", "5836142", "7052783", "1234567"))
