"""A table of doors, from file to estate and back."""

import pytest

from keyctl.places.models import Building, Door, Floor, Housing, Identifier, Space
from tests.cast import Cast
from tests.keyctl.imports.files import ROWS, faults, taken, tried

pytestmark = pytest.mark.django_db


def test_a_table_becomes_places(cast: Cast) -> None:
    imported = tried(cast.administrator, cast.north)
    assert imported.counts["things"]["doors"] == {"read": 4, "created": 4, "updated": 0, "unchanged": 0}
    assert not Door.objects.exists()
    imported = taken(cast.administrator, cast.north)
    assert faults(imported) == []
    assert imported.content is None
    assert list(Building.objects.values_list("code", "site__code")) == [("A", "NORTH"), ("B", "NORTH")]
    assert set(Floor.objects.values_list("label", "level")) == {("Level 1", 1), ("Level 2", 2), ("Ground", 0)}
    assert set(Space.objects.values_list("number", flat=True)) == {"101", "102"}
    store = Door.objects.get(number="102")
    assert (store.name, store.door_class, store.is_egress, store.is_fire_rated) == (
        "Store",
        "restricted",
        False,
        True,
    )
    assert {str(space) for space in store.spaces.all()} == {"101", "102"}
    assert set(store.housings.values_list("kind", "label", "construction")) == {
        ("mortise", "", "small-format"),
        ("padlock", "hasp", "small-format"),
    }
    assert Housing.objects.count() == 4
    assert Identifier.objects.get(value="D-2").door == store


def test_a_second_import_of_the_same_file_changes_nothing(cast: Cast) -> None:
    taken(cast.administrator, cast.north)
    again = tried(cast.administrator, cast.north)
    things = again.counts["things"]
    assert things["doors"] == {"read": 4, "created": 0, "updated": 0, "unchanged": 4}
    assert all(not figures["created"] and not figures["updated"] for figures in things.values())


def test_a_door_is_found_by_its_own_identifier_though_it_got_another_number(cast: Cast) -> None:
    taken(cast.administrator, cast.north)
    before = Door.objects.get(number="101")
    rows = [[*ROWS[0][:2], "111", *ROWS[0][3:]]]
    imported = taken(cast.administrator, cast.north, rows)
    assert imported.counts["taken"]["doors"] == {"created": 0, "updated": 1}
    before.refresh_from_db()
    assert before.number == "111"


def test_an_empty_cell_leaves_what_is_on_record(cast: Cast) -> None:
    taken(cast.administrator, cast.north)
    taken(cast.administrator, cast.north, [["A", "Level 1", "102", "", "", "yes", "", "", "", ""]])
    store = Door.objects.get(number="102")
    assert (store.name, store.door_class, store.is_fire_rated, store.spaces.count()) == (
        "Store",
        "restricted",
        True,
        2,
    )


@pytest.mark.parametrize(
    ("row", "column", "words"),
    [
        (["", "Level 1", "1", "", "", "", "", "", "", ""], "Building", "names no building"),
        (["A", "Level 1", "", "", "", "", "", "", "", ""], "Number", "names no door number"),
        (
            ["A", "Level 1", "1", "", "secret", "", "", "", "", ""],
            "Class",
            "Write one of: critical, ordinary, restricted",
        ),
        (["A", "Level 1", "1", "", "", "perhaps", "", "", "", ""], "Egress", "neither yes nor no"),
        (["A", "Level 1", "1", "", "", "", "", "trapdoor", "", ""], "Locks", "lock is not known"),
        (["A", "Level 1", "9" * 31, "", "", "", "", "", "", ""], "Number", "More than 30"),
        (["Very long house", "Level 1", "1", "", "", "", "", "", "", ""], "Building", "12 signs"),
        (["A", "Level 1", "1", '="x"', "", "", "", "", "", ""], "Room", "formula"),
    ],
)
def test_an_error_names_its_cell_and_the_remedy(cast: Cast, row: list[str], column: str, words: str) -> None:
    imported = tried(cast.administrator, cast.north, [row, ROWS[0]])
    [(number, place, sentence)] = faults(imported)
    assert (number, place) == (2, column)
    assert words in sentence
    assert imported.counts["things"]["doors"] == {"read": 2, "created": 1, "updated": 0, "unchanged": 0}


def test_rows_about_one_door_are_told(cast: Cast) -> None:
    twice = [ROWS[0], [*ROWS[0][:9], "D-9"], [*ROWS[1][:9], "D-1"]]
    assert faults(tried(cast.administrator, cast.north, twice)) == [
        (3, "Number", "Row 2 is this door too. Leave one of them out."),
        (4, "Own ID", "Row 2 has this identifier too. Correct one of them."),
    ]


def test_the_number_of_another_door_is_not_taken_over(cast: Cast) -> None:
    taken(cast.administrator, cast.north)
    rows = [["A", "Level 1", "102", "", "", "", "", "", "", "D-1"]]
    assert [place for _, place, _ in faults(tried(cast.administrator, cast.north, rows))] == ["Number"]


def test_a_locksmith_brings_doors_but_no_houses(cast: Cast) -> None:
    [fault] = faults(tried(cast.locksmith, cast.north, ROWS[:1]))
    assert fault[1] == "Building"
    assert "only an administrator" in fault[2]
    building = Building.objects.create(site=cast.north, code="A", name="House A")
    Floor.objects.create(building=building, label="Level 1", level=1)
    row = ["house a", "level 1", "101", "", "", "", "", "mortise", "", ""]
    taken(cast.locksmith, cast.north, [row])
    assert Door.objects.get().floor.building == building


def test_a_flag_that_saves_lives_is_not_taken_away_unseen(cast: Cast) -> None:
    taken(cast.administrator, cast.north)
    rows = [["A", "Level 2", "201", "", "", "no", "", "", "", ""]]
    imported = tried(cast.administrator, cast.north, rows)
    [warning] = imported.faults.filter(is_error=False)
    assert (warning.row, warning.column) == (2, "Egress")
    assert "local code" in warning.message


def test_new_doors_without_a_column_of_locks_are_told_of_once(cast: Cast) -> None:
    rows = [["A", "Level 1", "101"], ["A", "Level 1", "102"]]
    imported = tried(cast.administrator, cast.north, rows, header=["Building", "Floor", "Number"])
    [warning] = imported.faults.all()
    assert (warning.row, warning.is_error) == (2, False)
    assert "without any" in warning.message
    assert imported.counts["things"]["doors"]["created"] == 2
