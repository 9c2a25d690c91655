"""What happens between dry run, taking and undoing: nothing that somebody else did is written over."""

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.audit.models import Event
from keyctl.audit.selectors import history_of
from keyctl.imports import services
from keyctl.imports.models import Change, Import, ImportHabit
from keyctl.imports.services.bringing import KEPT_FOR, LEFT_AFTER, clear_imports
from keyctl.jobs.models import Job
from keyctl.lib.errors import Conflict, Refused
from keyctl.places.models import Building, BuildingManager, Door, Floor, Membership
from keyctl.places.services import add_housing
from tests import factories
from tests.cast import Cast
from tests.jobs import finish
from tests.keyctl.imports.dump import estate
from tests.keyctl.imports.files import (
    DOORS,
    ROWS,
    again,
    as_csv,
    brought,
    faults,
    kept,
    take,
    taken,
    tried,
    undone,
)

pytestmark = pytest.mark.django_db


def renamed(row: list[str], room: str) -> list[str]:
    return [*row[:3], room, *row[4:]]


def test_a_row_changed_after_the_dry_run_is_shown_and_left_as_it_is(cast: Cast) -> None:
    taken(cast.administrator, cast.north)
    imported = tried(cast.administrator, cast.north, [renamed(ROWS[0], "Lab"), renamed(ROWS[1], "Archive")])
    Door.objects.filter(number="101").update(name="Workshop")
    imported = take(cast.administrator, imported)
    assert kept(imported) == [
        (
            "A 101",
            "It was changed after the dry run. Look at it, and bring the row in again.",
        )
    ]
    assert imported.counts["conflicts"] == 1
    assert Door.objects.get(number="101").name == "Workshop"
    assert Door.objects.get(number="102").name == "Archive"


def test_a_place_that_somebody_made_meanwhile_is_not_made_twice(cast: Cast) -> None:
    imported = tried(cast.administrator, cast.north, ROWS[:1])
    building = Building.objects.create(site=cast.north, code="A", name="House A")
    imported = take(cast.administrator, imported)
    reasons = dict(kept(imported))
    assert "Another one like it" in reasons["A"]
    assert "Its building is not on record" in reasons["A, Level 1"]
    assert "Its floor is not on record" in reasons["A 101"]
    assert (list(Building.objects.all()), Floor.objects.count(), Door.objects.count()) == ([building], 0, 0)


def test_what_was_changed_or_built_upon_since_stays_with_what_it_stands_on(cast: Cast) -> None:
    imported = taken(cast.administrator, cast.north)
    Door.objects.filter(number="101").update(note="Sticks in winter")
    add_housing(
        actor=cast.locksmith,
        door=Door.objects.get(number="201"),
        kind="padlock",
        construction="small-format",
        label="new",
    )
    BuildingManager.objects.create(building=Building.objects.get(code="B"), user=cast.manager)
    imported = undone(cast.administrator, imported)
    reasons = dict(kept(imported))
    assert "changed since the import" in reasons["A 101"]
    assert "Since then Locksmith added a housing" in reasons["A 201"]
    assert "A door needs it" in reasons["A, Level 1"]
    assert "building manager needs it" in reasons["B"]
    assert set(Door.objects.values_list("number", flat=True)) == {"101", "201"}
    assert (imported.state, imported.counts["kept"]) == (Import.State.UNDONE, len(reasons))


def test_changed_rows_are_set_back(cast: Cast) -> None:
    taken(cast.administrator, cast.north)
    before = estate()
    rows = [["A", "Level 2", "109", "Lab", "critical", "yes", "yes", "", "109", "D-1"]]
    imported = taken(cast.administrator, cast.north, rows)
    assert Door.objects.get(number="109").floor.label == "Level 2"
    undone(cast.administrator, imported)
    assert estate() == before


def test_the_later_of_two_imports_is_undone_before_the_first(cast: Cast) -> None:
    before = estate()
    first = taken(cast.administrator, cast.north)
    second = taken(cast.administrator, cast.north, [renamed(ROWS[0], "Lab")])
    undone(cast.administrator, second)
    undone(cast.administrator, first)
    assert estate() == before


def test_history_tells_of_each_batch_and_on_the_page_of_each_thing(cast: Cast) -> None:
    imported = taken(cast.administrator, cast.north)
    door = Door.objects.get(number="101")
    assert [event.sentence for event in history_of(door)] == ["wrote 18 rows of the import doors.csv"]
    undone(cast.administrator, imported)
    told = history_of(imported).filter(verb__startswith="import.").values_list("verb", flat=True)
    assert [verb.removeprefix("import.") for verb in reversed(told)] == [
        *("brought", "rows_written", "taken", "rows_undone", "undone")
    ]
    assert Event.objects.filter(verb="import.undone").get().detail["undone"] == 18


def test_the_columns_chosen_are_remembered_for_the_site_and_kind(cast: Cast) -> None:
    header = ["Haus", "Etage", "Nr.", "Zimmer"]
    rows = [["A", "Level 1", "101", "Office"]]
    imported = brought(cast.administrator, cast.north, rows, header=header)
    assert imported.columns == {}
    with pytest.raises(Refused, match="Choose the column of the building"):
        services.start_trying(actor=cast.administrator, imported=imported, version=imported.version)
    columns = {"building": 0, "floor": 1, "number": 2, "name": 3}
    services.choose_columns(
        actor=cast.administrator, imported=imported, version=imported.version, columns=columns
    )
    assert brought(cast.administrator, cast.north, rows, header=header).columns == columns
    Membership.objects.create(user=cast.administrator, site=cast.south, role="administrator")
    assert brought(cast.administrator, cast.south, rows, header=header).columns == {}
    assert ImportHabit.objects.get().headings["number"] == "nr"


def test_one_column_says_one_thing(cast: Cast) -> None:
    imported = brought(cast.administrator, cast.north)
    columns = {"building": 0, "floor": 1, "number": 1}
    with pytest.raises(Refused, match="cannot say two things"):
        services.choose_columns(
            actor=cast.administrator, imported=imported, version=imported.version, columns=columns
        )


def test_whoever_is_late_is_told(cast: Cast) -> None:
    imported = tried(cast.administrator, cast.north)
    services.start_trying(actor=cast.administrator, imported=imported, version=imported.version)
    facts: dict[str, Any] = {
        "actor": cast.administrator,
        "imported": imported,
        "version": imported.version,
    }
    with pytest.raises(Conflict, match="A job works"):
        services.start_taking(**facts, digest=imported.digest)
    finish(Job.objects.exclude(state=Job.State.DONE).get())
    with pytest.raises(Conflict, match="worked on this import first"):
        services.start_taking(**facts, digest=imported.digest)
    facts["version"] = again(imported).version
    with pytest.raises(Conflict, match="not the file that was tried"):
        services.start_taking(**facts, digest="0" * 64)


def test_rows_with_errors_are_left_out_on_demand_only(cast: Cast) -> None:
    imported = tried(cast.administrator, cast.north, [*ROWS, ["A", "Level 1", *[""] * 8]])
    assert len(faults(imported)) == 1
    with pytest.raises(Refused, match="say that these rows are left out"):
        services.start_taking(
            actor=cast.administrator,
            imported=imported,
            version=imported.version,
            digest=imported.digest,
        )
    take(cast.administrator, imported)
    assert Door.objects.count() == 4


def test_a_file_that_is_given_up_is_deleted_with_what_was_found(cast: Cast) -> None:
    imported = tried(cast.administrator, cast.north)
    services.give_up(actor=cast.administrator, imported=imported, version=imported.version)
    imported.refresh_from_db()
    assert (imported.state, imported.content) == (Import.State.LEFT, None)
    assert not Change.objects.exists()
    with pytest.raises(Conflict, match="given up"):
        services.start_undoing(actor=cast.administrator, imported=imported, version=imported.version)


def test_files_left_lying_go_and_old_imports_can_no_longer_be_undone(cast: Cast) -> None:
    lying, old = tried(cast.administrator, cast.north, ROWS[:1]), taken(cast.administrator, cast.north)
    now = timezone.now()
    assert "given up: 0" in clear_imports(now + LEFT_AFTER - timedelta(days=1))
    told = clear_imports(now + KEPT_FOR + timedelta(days=1))
    assert told == "Files given up: 1. Imports that can no longer be undone: 1."
    assert (again(lying).state, again(old).state) == (Import.State.LEFT, Import.State.TAKEN)
    old = again(old)
    with pytest.raises(Refused, match="can no longer be undone"):
        services.start_undoing(actor=cast.administrator, imported=old, version=old.version)


@pytest.mark.parametrize("who", ["desk", "manager", "officer", "auditor", "requester", "stranger"])
def test_only_who_keeps_doors_brings_them_in(cast: Cast, who: str) -> None:
    actor: User = getattr(cast, who)
    with pytest.raises(Exception, match=r"^$") as refused:
        brought(actor, cast.north)
    assert type(refused.value).__name__ in {"PermissionDenied", "Http404"}


def test_a_right_that_ended_while_the_job_waited_is_missed(cast: Cast) -> None:
    imported = tried(cast.administrator, cast.north)
    job = services.start_taking(
        actor=cast.administrator, imported=imported, version=imported.version, digest=imported.digest
    )
    Membership.objects.filter(user=cast.administrator).update(role="auditor")
    assert finish(job).state == Job.State.FAILED
    assert not Door.objects.exists()


def test_a_workbook_is_read_like_a_table_of_text(cast: Cast) -> None:
    from tests.keyctl.inherited.lists import as_workbook

    imported = taken(cast.administrator, cast.north, content=as_workbook([DOORS, *ROWS]))
    assert imported.counts["taken"]["doors"]["created"] == 4
    assert faults(tried(cast.administrator, cast.north, content=as_csv([DOORS, *ROWS]))) == []


def test_a_floor_of_another_building_keeps_its_name(cast: Cast) -> None:
    factories.make_floor(cast.north)
    taken(
        cast.administrator, cast.north, [["A", "Level 1", "1", *[""] * 7], ["B", "level 1", "1", *[""] * 7]]
    )
    assert set(Floor.objects.filter(doors__isnull=False).values_list("building__code", flat=True)) == {
        "A",
        "B",
    }
