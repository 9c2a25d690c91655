"""A list is written as it was checked: all keys or none, then its cores, once."""

import csv
import io
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404

from keyctl.audit.models import Event
from keyctl.cores.models import Core, Keying
from keyctl.inherited.models import BittingList
from keyctl.inherited.services import leave_list, start_check, start_writing
from keyctl.jobs.models import Job
from keyctl.jobs.running import Running
from keyctl.jobs.services import cancel_job, open_file, resume_job
from keyctl.lib.errors import Conflict, Refused
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.services import bitting_of
from tests import factories
from tests.cast import Cast
from tests.jobs import finish
from tests.keyctl.inherited.lists import HEADER, ROWS, as_csv, brought, checked, findings, writing
from tests.signing import proven

pytestmark = pytest.mark.django_db


def test_a_sound_list_has_no_finding_and_nothing_is_written_by_checking(cast: Cast) -> None:
    listed = checked(cast)
    assert findings(listed) == []
    assert listed.counts == {"rows": 5, "keys": 4, "cores": 3, "errors": 0, "warnings": 0, "clean": 5}
    assert not KeySystem.objects.exists()
    assert not Core.objects.exists()


def test_it_becomes_a_system_with_its_keys_and_cores(cast: Cast) -> None:
    listed = checked(cast)
    job = finish(writing(cast, listed))
    assert job.state == Job.State.DONE
    system = KeySystem.objects.get(code="OLD")
    assert (system.levels, system.name, system.keyway) == (2, "The old house", "WOLD")
    keys = {key.symbol: key for key in system.symbols.select_related("parent")}
    assert {name: bitting_of(key) for name, key in keys.items()} == {
        "AA": "361492",
        "1AA": "583614",
        "2AA": "705278",
        "CTR": "743810",
    }
    assert {(k.symbol, k.kind, k.level, str(k.parent), k.ordinal) for k in keys.values()} == {
        ("AA", "master", 0, "None", 0),
        ("1AA", "change", 1, "AA", 0),
        ("2AA", "change", 1, "AA", 1),
        ("CTR", "control", None, "None", 0),
    }
    assert {key.origin for key in keys.values()} == {KeySymbol.Origin.BROUGHT_IN}
    keyed = sorted(Keying.objects.values_list("symbol__symbol", flat=True))
    assert keyed == ["1AA", "2AA", "2AA"]
    assert Core.objects.filter(system=system, place="bench", pinning=None).count() == 3


def test_the_file_is_deleted_and_history_tells_the_list_once_without_a_cut(cast: Cast) -> None:
    listed = checked(cast)
    finish(writing(cast, listed))
    ended = BittingList.objects.get(pk=listed.pk)
    assert (ended.state, ended.content, ended.findings) == (BittingList.State.DONE, None, None)
    [event] = Event.objects.filter(verb="inherited.list_written")
    assert event.detail == {"rows": 5, "keys": 4, "cores": 3, "digest": listed.digest}
    told = " ".join(f"{event.sentence} {event.detail}" for event in Event.objects.all())
    told += " ".join(f"{job.outcome} {job.words}" for job in Job.objects.all())
    assert not any(row[1] in told for row in ROWS if row[1])


def test_the_content_is_sealed_at_rest(cast: Cast) -> None:
    listed = brought(cast)
    assert b"583614" not in bytes(listed.content or b"")
    mixed_up = checked(cast, [["583614", "AA", "", "", ""]], code="OLD9")
    assert b"583614" not in bytes(mixed_up.findings or b"")
    assert len(listed.digest) == 64


def test_the_cores_get_tags_that_a_file_tells(cast: Cast) -> None:
    job = finish(writing(cast, checked(cast, [*ROWS[:3], ["2AA", "", "", "", "+Door 9"]])))
    text = open_file(actor=cast.locksmith, sign_in=proven(cast.locksmith), file=job.files.get()).decode(
        "utf-8-sig"
    )
    rows_told = list(csv.reader(io.StringIO(text)))
    assert [row[0] for row in rows_told] == ["Core or door in the list", "Door 1", "Door 2", "'+Door 9"]
    assert {row[1] for row in rows_told[1:]} == set(Core.objects.values_list("tag", flat=True))


@pytest.mark.parametrize("start", ["+", "-", "@", "|", "\uff1d", "\uff20"])
def test_no_door_becomes_a_formula_of_the_file_of_tags(cast: Cast, start: str) -> None:
    rows = [[*row[:4], f"{start}1+2" if row[4] == "Door 2" else row[4]] for row in ROWS]
    job = finish(writing(cast, checked(cast, rows)))
    text = open_file(actor=cast.locksmith, sign_in=proven(cast.locksmith), file=job.files.get()).decode(
        "utf-8-sig"
    )
    assert f"'{start}1+2" in [row[0] for row in csv.reader(io.StringIO(text))]


def test_cross_keyed_cores_stand_in_several_rows(cast: Cast) -> None:
    rows = [*ROWS[:2], ["2AA", "705278", "AA", "", "Door 1"], ROWS[4]]
    finish(writing(cast, checked(cast, rows)))
    core = Core.objects.get()
    assert sorted(core.keyed_to.values_list("symbol", flat=True)) == ["1AA", "2AA"]


def test_a_list_goes_into_a_system_that_is_there(cast: Cast) -> None:
    system = factories.make_system(cast.north, actor=cast.locksmith)
    master = factories.symbol(system, "AB")
    own = bitting_of(master)
    # The last position is held by every key of this system, so another cut there is free.
    fresh = own[:-1] + next(d for d in "0123456789" if d != own[-1] and (int(d) - int(own[-1])) % 2 == 0)
    listed = checked(cast, [["AB9", fresh, "AB", "", "Door 7"], ["A", "", "", "", "Door 8"]], system=system)
    assert [found for found in findings(listed) if found[1]] == []
    finish(writing(cast, listed))
    added = factories.symbol(system, "AB9")
    assert (added.parent, added.level, added.ordinal, bitting_of(added)) == (master, 2, 8, fresh)
    assert sorted(Keying.objects.values_list("symbol__symbol", flat=True)) == ["A", "AB9"]


def test_only_the_file_that_was_checked_is_written(cast: Cast) -> None:
    listed = checked(cast)
    with pytest.raises(Conflict):
        writing(cast, listed, digest="0" * 64)
    with pytest.raises(Conflict):
        writing(cast, listed, version=listed.version - 1)
    with pytest.raises(Conflict):
        writing(cast, brought(cast, code="OLD2"))


def test_errors_keep_the_list_out_and_warnings_want_a_word(cast: Cast) -> None:
    wrong = checked(cast, [["AA", "36149", "", "", ""]])
    with pytest.raises(Refused):
        writing(cast, wrong)
    listed = checked(cast, ROWS[:3], code="OLD3")  # no control key: a warning
    assert listed.warnings == 1
    with pytest.raises(Refused):
        writing(cast, listed, despite_warnings=False)
    assert writing(cast, listed, despite_warnings=True).state == Job.State.WAITING


def test_what_changed_since_the_dry_run_stops_the_writing_before_anything_is_there(cast: Cast) -> None:
    listed = checked(cast)
    job = writing(cast, listed)
    factories.make_system(cast.north, actor=cast.locksmith, code="OLD")
    finished = finish(job)
    assert finished.state == Job.State.FAILED
    assert KeySystem.objects.count() == 1
    again = BittingList.objects.get(pk=listed.pk)
    left = leave_list(actor=cast.locksmith, listed=again, version=again.version)
    assert left.content is None


def test_a_stopped_job_goes_on_where_it_was(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("keyctl.inherited.services.work.CORES_AT_ONCE", 1)
    job = writing(cast, checked(cast))
    step = Running.step

    def dying(self: Running, done: int, total: int, words: str = "") -> None:
        if done == len(ROWS) + 1:  # the first core is there
            raise RuntimeError("the power failed")
        step(self, done, total, words)

    monkeypatch.setattr(Running, "step", dying)
    assert finish(job).state == Job.State.FAILED
    assert (KeySymbol.objects.count(), Core.objects.count()) == (4, 1)
    stopped = BittingList.objects.get()
    with pytest.raises(Refused):
        leave_list(actor=cast.locksmith, listed=stopped, version=stopped.version)
    monkeypatch.setattr(Running, "step", step)
    resumed = finish(resume_job(actor=cast.locksmith, job=job))
    assert resumed.state == Job.State.DONE
    assert (KeySymbol.objects.count(), Core.objects.count()) == (4, 3)
    assert Event.objects.filter(verb="inherited.list_written").count() == 1


def test_a_job_of_a_list_turned_back_since_writes_nothing(cast: Cast) -> None:
    listed = checked(cast)
    old = cancel_job(actor=cast.locksmith, job=writing(cast, listed))
    listed.refresh_from_db()
    finish(start_check(actor=cast.locksmith, listed=listed, version=listed.version))
    listed.refresh_from_db()
    new = writing(cast, listed)
    assert finish(resume_job(actor=cast.locksmith, job=old)).state == Job.State.FAILED
    assert not Core.objects.exists()
    assert finish(new).state == Job.State.DONE
    assert Core.objects.count() == 3


@pytest.mark.parametrize("act", ["check", "write"])
def test_who_lost_the_role_meanwhile_neither_checks_nor_writes(cast: Cast, act: str) -> None:
    listed = checked(cast)
    if act == "write":
        job = writing(cast, listed)
    else:
        job = start_check(actor=cast.locksmith, listed=listed, version=listed.version)
    before = BittingList.objects.get().version
    Membership.objects.filter(user=cast.locksmith).update(role=Role.MANAGER)
    assert finish(job).state == Job.State.FAILED
    assert BittingList.objects.get().version == before
    assert not KeySystem.objects.exists()


def test_a_list_given_up_leaves_nothing(cast: Cast) -> None:
    listed = checked(cast)
    left = leave_list(actor=cast.locksmith, listed=listed, version=listed.version)
    assert (left.state, left.content) == (BittingList.State.LEFT, None)
    with pytest.raises(Conflict):
        start_check(actor=cast.locksmith, listed=left, version=left.version)


@pytest.mark.parametrize("person", ["officer", "auditor", "desk", "administrator", "manager", "stranger"])
def test_only_a_locksmith_of_the_site_writes(cast: Cast, person: str) -> None:
    listed = checked(cast)
    facts: dict[str, Any] = {"version": listed.version, "digest": listed.digest, "despite_warnings": True}
    with pytest.raises((PermissionDenied, Http404)):
        start_writing(actor=cast.everybody[person], listed=listed, **facts)


def test_as_csv_is_what_a_spreadsheet_saves() -> None:
    assert as_csv([HEADER]).startswith(b"\xef\xbb\xbfSymbol,")
