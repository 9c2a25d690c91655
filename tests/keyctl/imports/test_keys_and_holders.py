"""Tables of keys and of holders, by the services of their pages."""

import pytest

from keyctl.counts.services import start_count
from keyctl.desk.models import Tray, TrayLine
from keyctl.keys.models import DeskSettings, Holder, KeyCopy
from keyctl.systems.models import KeySystem
from tests import factories
from tests.cast import Cast
from tests.keyctl.imports.files import faults, kept, taken, tried, undone

pytestmark = pytest.mark.django_db

KEYS = {"kind": "keys", "header": ["System", "Symbol", "Serial", "Mark", "Cabinet", "Status"]}
HOLDERS = {"kind": "holders", "header": ["Name", "E-mail", "Department", "Type"]}


@pytest.fixture
def system(cast: Cast) -> KeySystem:
    DeskSettings.objects.create(site=cast.north, stamping="free")
    factories.make_cabinet(cast.north)
    return factories.make_system(cast.north, actor=cast.locksmith, code="KS9")


def cabinet() -> str:
    from keyctl.keys.models import Cabinet

    return Cabinet.objects.get().name


def test_keys_come_in_where_they_hang(cast: Cast, system: KeySystem) -> None:
    rows = [
        ["KS9", "AA1", "BCDF-2345-GHJK", "", cabinet().upper(), "in a cabinet"],
        ["ks9", "aa1", "", "M 17", cabinet(), ""],
    ]
    imported = taken(cast.locksmith, cast.north, rows, **KEYS)
    assert faults(imported) == []
    assert set(KeyCopy.objects.values_list("symbol__symbol", "stamp", "state")) == {
        ("AA1", "", "in-cabinet"),
        ("AA1", "M 17", "in-cabinet"),
    }
    again = tried(cast.locksmith, cast.north, rows, **KEYS)
    assert again.counts["things"]["keys"] == {"read": 2, "created": 0, "updated": 0, "unchanged": 2}
    undone(cast.locksmith, imported)
    assert not KeyCopy.objects.exists()


@pytest.mark.parametrize(
    ("row", "column", "words"),
    [
        (["KS8", "AA1", "", "M 1", "", ""], "System", "No key system"),
        (["KS9", "ZZ1", "", "M 1", "", ""], "Symbol", "no key of this symbol"),
        (["KS9", "AA1", "", "", "", ""], "Serial", "neither serial nor mark"),
        (["KS9", "AA1", "", "AA1", "", ""], "Mark", "symbol"),
        (["KS9", "AA1", "", "3614927", "", ""], "Mark", "may be its cuts"),
        (["KS9", "AA1", "", "M 1", "", "lost"], "Status", "reported on its page"),
        (["KS9", "AA1", "", "M 1", "", "with a holder"], "Status", "a signature"),
    ],
)
def test_an_error_names_its_cell(
    cast: Cast, system: KeySystem, row: list[str], column: str, words: str
) -> None:
    row = [*row[:4], cabinet(), row[5]]
    [(_, place, sentence)] = faults(tried(cast.locksmith, cast.north, [row], **KEYS))
    assert (place, words in sentence) == (column, True), sentence
    assert "3614927" not in sentence


def test_a_mark_is_stamped_only_where_the_desk_allows_it(cast: Cast, system: KeySystem) -> None:
    DeskSettings.objects.update(stamping="serial")
    rows = [["KS9", "AA1", "", "M 17", cabinet(), ""]]
    [(_, column, sentence)] = faults(tried(cast.locksmith, cast.north, rows, **KEYS))
    assert (column, "serial only" in sentence) == ("Mark", True)


def test_holders_are_registered_and_brought_up_to_date(cast: Cast) -> None:
    known = factories.make_holder(cast.north, name="Ada Stone", email="ada@example.org")
    rows = [
        ["Ada Stone", "ADA@example.org", "Physics", "Employee"],
        ["Ben Field", "ben@example.org", "", "students"],
        ["Cy Wood", "", "", ""],
    ]
    imported = taken(cast.administrator, cast.north, rows, **HOLDERS)
    assert imported.counts["taken"]["holders"] == {"created": 2, "updated": 1}
    known.refresh_from_db()
    assert (known.email, known.department) == ("ada@example.org", "Physics")
    assert Holder.objects.get(name="Ben Field").kind == "student"
    again = tried(cast.administrator, cast.north, rows, **HOLDERS)
    assert again.counts["things"]["holders"]["unchanged"] == 3
    undone(cast.administrator, imported)
    known.refresh_from_db()
    assert known.department == ""
    assert list(Holder.objects.all()) == [known]


def test_a_holder_who_got_a_key_since_stays(cast: Cast, system: KeySystem) -> None:
    imported = taken(cast.administrator, cast.north, [["Ben Field", "", "", ""]], **HOLDERS)
    from keyctl.keys.models import Cabinet

    copy = factories.make_copy(factories.change_key(system), Cabinet.objects.get())
    factories.make_line(copy, Holder.objects.get(), by=cast.desk)
    undone(cast.administrator, imported)
    [(label, reason)] = kept(imported)
    assert label == "Ben Field"
    assert "needs it" in reason


def test_a_key_that_lies_on_the_counter_stays(cast: Cast, system: KeySystem) -> None:
    rows = [["KS9", "AA1", "", f"M {number}", cabinet(), ""] for number in (1, 2)]
    imported = taken(cast.locksmith, cast.north, rows, **KEYS)
    tray = Tray.objects.create(site=cast.north, clerk=cast.desk, way="issue")
    TrayLine.objects.create(tray=tray, ordinal=1, copy=KeyCopy.objects.get(stamp="M 1"))
    undone(cast.locksmith, imported)
    [(_, reason)] = kept(imported)
    assert "needs it" in reason
    assert (TrayLine.objects.count(), KeyCopy.objects.get().stamp) == (1, "M 1")


def test_keys_that_are_being_counted_stay(cast: Cast, system: KeySystem) -> None:
    rows = [["KS9", "AA1", "", "M 1", cabinet(), ""]]
    imported = taken(cast.locksmith, cast.north, rows, **KEYS)
    place = KeyCopy.objects.get().cabinet
    start_count(actor=cast.desk, site=cast.north, scope="cabinet", cabinet=place)
    undone(cast.locksmith, imported)
    assert len(kept(imported)) == KeyCopy.objects.count() == 1


@pytest.mark.parametrize(
    ("row", "column", "words"),
    [
        (["", "x@example.org", "", ""], "Name", "names no name"),
        (["Dee", "no address", "", ""], "E-mail", "cannot be an address"),
        (["Twin", "", "", ""], "Name", "Several holders"),
        (["Gone Girl", "", "Chemistry", ""], "Name", "receives no keys"),
    ],
)
def test_an_error_of_a_holder_names_its_cell(cast: Cast, row: list[str], column: str, words: str) -> None:
    for _ in range(2):
        factories.make_holder(cast.north, name="Twin")
    factories.make_holder(cast.north, name="Gone Girl", is_active=False)
    [(_, place, sentence)] = faults(tried(cast.administrator, cast.north, [row], **HOLDERS))
    assert (place, words in sentence) == (column, True), sentence
