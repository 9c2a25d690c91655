"""Many cores at once: the same pins and turns as one by one, in batches that can be gone on with."""

from collections import Counter
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.test import Client
from django.urls import reverse

from keyctl import engine
from keyctl.audit.models import Event, EventSubject
from keyctl.audit.selectors import history_of
from keyctl.cores import services
from keyctl.cores.models import Core, Keying, Turn
from keyctl.cores.proof import prove_estate
from keyctl.cores.services import bulk, bulk_jobs, pin_cores, register_cores, start_pinning, start_registering
from keyctl.cores.turning import KeyFamily, pins_of
from keyctl.cores.waiting import keys_without_core
from keyctl.jobs import running as running_module
from keyctl.jobs.models import Job
from keyctl.jobs.services import cancel_job, resume_job
from keyctl.lib.errors import Refused
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.services import bitting_of
from tests import factories
from tests.cast import Cast
from tests.jobs import finish

# Two masters, sixteen change keys below each.
LEVELS = (((1, 2), 2), ((3, 4), 16))


@pytest.fixture
def system(cast: Cast) -> KeySystem:
    return factories.make_system(cast.north, actor=cast.administrator, levels=LEVELS)


@pytest.fixture
def small_batches(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bulk, "BATCH", 5)
    monkeypatch.setattr(bulk_jobs, "BATCH", 5)
    monkeypatch.setattr(running_module, "SECONDS_BETWEEN_WRITES", 0.0)


def changes(system: KeySystem) -> list[KeySymbol]:
    return list(system.symbols.filter(kind=KeySymbol.Kind.CHANGE).order_by("symbol"))


def start(cast: Cast, system: KeySystem, count: int, **facts: Any) -> Job:
    return start_registering(actor=cast.locksmith, site=cast.north, system=system, count=count, **facts)


def effects(core: Core) -> set[tuple[str, bool, bool]]:
    return set(core.turns.values_list("symbol__symbol", "operates", "withdraws"))


@pytest.mark.usefixtures("small_batches")
def test_many_give_the_same_pins_and_turns_as_one_by_one(cast: Cast, system: KeySystem) -> None:
    keyings = [[key] for key in changes(system)] + [changes(system)[:2], [factories.symbol(system, "A")]]
    one_by_one = [
        factories.make_core(actor=cast.locksmith, site=cast.north, system=system, symbols=keying)
        for keying in keyings
    ]
    many = register_cores(actor=cast.locksmith, site=cast.north, system=system, keyings=keyings)
    seen: list[int] = []
    result = pin_cores(actor=cast.locksmith, cores=many, watch=seen.append)
    assert len(result.cores) == len(keyings) == 34
    assert seen == [5, 10, 15, 20, 25, 30, 34]
    for lone, core in zip(one_by_one, many, strict=True):
        lone.refresh_from_db()
        core.refresh_from_db()
        assert pins_of(core) == pins_of(lone)
        assert effects(core) == effects(lone)
        assert (core.place, core.pinned_by, core.version) == (Core.Place.BENCH, cast.locksmith, 2)


def test_history_names_every_core_in_one_event_per_act(cast: Cast, system: KeySystem) -> None:
    cores = register_cores(
        actor=cast.locksmith, site=cast.north, system=system, keyings=[[key] for key in changes(system)[:3]]
    )
    pin_cores(actor=cast.locksmith, cores=cores)
    for core in cores:
        assert [event.verb for event in history_of(core)] == ["core.pinned_many", "core.registered_many"]
    assert EventSubject.objects.filter(event__verb="core.pinned_many").count() == 4
    told = history_of(changes(system)[1]).get().sentence
    assert told == f"registered 3 cores of {system.code}, keyed to AA1 to AA11"


def test_no_event_holds_a_bitting(cast: Cast, system: KeySystem) -> None:
    finish(start(cast, system, 32))
    words = repr([*Event.objects.values(), *Job.objects.values()])
    assert [key for key in changes(system) if bitting_of(key) in words] == []


@pytest.mark.usefixtures("small_batches")
def test_the_job_gives_each_key_without_a_core_one_page_by_page(cast: Cast, system: KeySystem) -> None:
    factories.make_core(actor=cast.locksmith, site=cast.north, system=system)  # keyed to AA1
    job = finish(start(cast, system, 20))
    assert job.state == Job.State.DONE
    assert job.outcome["facts"] == {"Cores through": 20, "Pinned": 20, "Not pinned": 0}
    assert job.outcome["url"] == reverse("systems:detail", args=[system.pk])
    keyed = {key.symbol: key.cores.count() for key in changes(system)}
    assert set(keyed.values()) == {0, 1}
    expected = [f"AA{n}" for n in range(1, 17)] + [f"AB{n}" for n in range(1, 6)]
    assert {name for name, count in keyed.items() if count} == set(expected)
    assert prove_estate(actor=cast.auditor, store=False).disagreements == []


@pytest.mark.usefixtures("small_batches")
def test_keys_that_got_a_core_while_the_job_waited_its_turn_get_no_second(
    cast: Cast, system: KeySystem, monkeypatch: pytest.MonkeyPatch
) -> None:
    hold, others = KeyFamily.hold, changes(system)[:3]

    def hold_after_another_job(family: KeyFamily) -> None:
        hold(family)
        if others:
            keyings = [[others.pop()] for _ in range(3)]
            register_cores(actor=cast.locksmith, site=cast.north, system=system, keyings=keyings)

    monkeypatch.setattr(KeyFamily, "hold", hold_after_another_job)
    assert finish(start(cast, system, 32)).state == Job.State.DONE
    keyed = Counter(Keying.objects.values_list("symbol__symbol", flat=True))
    assert (len(keyed), max(keyed.values())) == (32, 1)


def test_below_one_master_only(cast: Cast, system: KeySystem) -> None:
    finish(start(cast, system, 3, below=factories.symbol(system, "AB")))
    assert sorted(key.symbol for key in changes(system) if key.cores.exists()) == ["AB1", "AB2", "AB3"]


@pytest.mark.usefixtures("small_batches")
def test_a_stopped_job_goes_on_and_no_key_gets_two_cores(
    cast: Cast, system: KeySystem, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = start(cast, system, 32)
    plain = bulk.Pinner.pin

    def stop_after_the_second(pinner: bulk.Pinner, cores: Any) -> bulk.Pinned:
        found = plain(pinner, cores)
        if Core.objects.count() == 10:
            cancel_job(actor=cast.officer, job=job)
        return found

    monkeypatch.setattr(bulk.Pinner, "pin", stop_after_the_second)
    assert finish(job).state == Job.State.STOPPED
    assert Core.objects.filter(pinning__isnull=False).count() == 10
    job = finish(resume_job(actor=cast.locksmith, job=job))
    assert job.outcome["facts"]["Pinned"] == 32
    assert Core.objects.count() == 32
    assert {key.cores.count() for key in changes(system)} == {1}


@pytest.mark.usefixtures("small_batches")
def test_a_batch_that_breaks_leaves_nothing_half_done(
    cast: Cast, system: KeySystem, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = start(cast, system, 12)
    plain = bulk.Pinner.pin

    def break_in_the_second(pinner: bulk.Pinner, cores: Any) -> bulk.Pinned:
        found = plain(pinner, cores)
        if Core.objects.count() == 10:
            raise RuntimeError
        return found

    with monkeypatch.context() as patch:
        patch.setattr(bulk.Pinner, "pin", break_in_the_second)
        assert finish(job).state == Job.State.FAILED
    assert Core.objects.count() == 5
    assert finish(resume_job(actor=cast.locksmith, job=job)).state == Job.State.DONE
    assert Core.objects.count() == 12


def test_keys_added_meanwhile_are_known_to_later_batches(cast: Cast, system: KeySystem) -> None:
    """A key index read at the start would not know a key that came between two batches."""
    cores = register_cores(
        actor=cast.locksmith, site=cast.north, system=system, keyings=[[key] for key in changes(system)[:2]]
    )
    pinner = bulk.Pinner(cast.locksmith, system)
    pinner.pin([cores[0].pk])
    other = factories.make_system(
        cast.north, actor=cast.administrator, keyway=system.keyway, code="TWIN", levels=LEVELS
    )
    pinner.pin([cores[1].pk])
    turning = Turn.objects.filter(core=cores[1], symbol__system=other)
    assert turning.exists()  # drawn from the same source of chance, so the same keys


def test_cores_whose_keys_cannot_share_one_are_named_and_passed_over(
    cast: Cast, system: KeySystem, monkeypatch: pytest.MonkeyPatch
) -> None:
    cores = register_cores(
        actor=cast.locksmith, site=cast.north, system=system, keyings=[[key] for key in changes(system)[:3]]
    )
    plain, asked = engine.pin, list[int]()

    def refuse_the_second(*facts: Any) -> Any:
        asked.append(1)
        if len(asked) == 2:
            raise Refused("These keys cannot be pinned into one core.")
        return plain(*facts)

    monkeypatch.setattr(engine, "pin", refuse_the_second)
    job = finish(start_pinning(actor=cast.locksmith, site=cast.north, system=system))
    assert job.outcome["facts"] == {"Cores through": 3, "Pinned": 2, "Not pinned": 1}
    left = Core.objects.get(pinning__isnull=True)
    assert left in cores
    assert str(left) in job.outcome["sentence"]


def test_pinning_what_waits_takes_only_cores_in_hand(cast: Cast, system: KeySystem) -> None:
    waiting = register_cores(
        actor=cast.locksmith, site=cast.north, system=system, keyings=[[key] for key in changes(system)[:4]]
    )
    factories.install(waiting[0], factories.make_housing(cast.north))
    job = start_pinning(actor=cast.locksmith, site=cast.north, system=system)
    services.move_core(actor=cast.locksmith, core=waiting[1], version=1, place=Core.Place.GONE)
    services.dispute_cores(cores=[waiting[2].pk], over="case 1")
    finish(job)
    for core in waiting:
        core.refresh_from_db()
    assert [core.is_pinned for core in waiting] == [False, False, False, True]


def test_who_lost_the_role_meanwhile_neither_registers_nor_pins(cast: Cast, system: KeySystem) -> None:
    keyings = [[key] for key in changes(system)[:2]]
    register_cores(actor=cast.locksmith, site=cast.north, system=system, keyings=keyings)
    pinning = start_pinning(actor=cast.locksmith, site=cast.north, system=system)
    registering = start(cast, system, 3)
    Membership.objects.filter(user=cast.locksmith).update(role=Role.KEY_DESK)
    assert {finish(pinning).state, finish(registering).state} == {Job.State.FAILED}
    assert list(Core.objects.values_list("pinned_at", flat=True)) == [None, None]


def test_a_core_of_a_housing_is_not_pinned(cast: Cast, system: KeySystem) -> None:
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system, pinned=False)
    factories.install(core, factories.make_housing(cast.north))
    with pytest.raises(Refused, match="bring it to the bench"):
        pin_cores(actor=cast.locksmith, cores=[core])


def test_pinned_cores_are_left_as_they_are(cast: Cast, system: KeySystem) -> None:
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system)
    before = bytes(core.pinning or b"")
    assert pin_cores(actor=cast.locksmith, cores=[core]).cores == []
    core.refresh_from_db()
    assert bytes(core.pinning or b"") == before


@pytest.mark.parametrize("count", [0, 33])
def test_as_many_as_there_are_keys(cast: Cast, system: KeySystem, count: int) -> None:
    with pytest.raises(Refused, match="ask for 1 to 32"):
        start(cast, system, count)


def test_a_key_whose_only_core_is_gone_has_none(cast: Cast, system: KeySystem) -> None:
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system)
    assert keys_without_core(system).count() == 31
    services.move_core(actor=cast.locksmith, core=core, version=core.version, place=Core.Place.GONE)
    assert keys_without_core(system).count() == 32


def test_only_at_a_site_of_the_system(cast: Cast, system: KeySystem) -> None:
    with pytest.raises(Refused, match="not used at"):
        start_registering(actor=cast.stranger, site=cast.south, system=system, count=1)


def test_who_may(cast: Cast, system: KeySystem) -> None:
    keyings = [[changes(system)[0]]]
    for name, person in cast.everybody.items():
        if name != "locksmith":
            with pytest.raises((PermissionDenied, Http404)):
                register_cores(actor=person, site=cast.north, system=system, keyings=keyings)
            with pytest.raises((PermissionDenied, Http404)):
                start_registering(actor=person, site=cast.north, system=system, count=1)
            with pytest.raises((PermissionDenied, Http404)):
                start_pinning(actor=person, site=cast.north, system=system)


class TestPage:
    def test_it_starts_the_job(self, cast: Cast, system: KeySystem, client: Client) -> None:
        client.force_login(cast.locksmith)
        facts = {"site": cast.north.pk, "name": "ab", "count": 2}
        answer = client.post(reverse("cores:bulk", args=[system.pk]), facts)
        job = Job.objects.get()
        assert answer.headers["Location"] == reverse("jobs:detail", args=[job.pk])
        finish(job)
        assert sorted(key.symbol for key in changes(system) if key.cores.exists()) == ["AB1", "AB2"]

    def test_it_pins_what_waits(self, cast: Cast, system: KeySystem, client: Client) -> None:
        core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system, pinned=False)
        client.force_login(cast.locksmith)
        page = client.get(reverse("cores:bulk", args=[system.pk]))
        assert page.context["waiting"] == [{"site__name": cast.north.name, "count": 1}]
        client.post(reverse("cores:bulk-pin", args=[system.pk]), {"site": cast.north.pk})
        finish(Job.objects.get())
        core.refresh_from_db()
        assert core.is_pinned

    @pytest.mark.parametrize(("name", "count"), [("AZ", 1), ("AA1", 1), ("", 99), ("", "")])
    def test_what_cannot_be_is_told_on_the_page(
        self, cast: Cast, system: KeySystem, client: Client, name: str, count: object
    ) -> None:
        client.force_login(cast.locksmith)
        facts = {"site": cast.north.pk, "name": name, "count": count}
        assert client.post(reverse("cores:bulk", args=[system.pk]), facts).status_code == 422
        assert not Job.objects.exists()
