"""The invented estate: its size, its proof, its print, and a second run."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from random import Random

import pytest
from django.core.management import CommandError
from django.db import transaction
from django.test import override_settings
from pytest_django import DjangoDbBlocker, Settings

from keyctl import engine
from keyctl.audit.models import Event
from keyctl.cores.models import Core, Turn
from keyctl.cores.turning import pins_of
from keyctl.demo import build
from keyctl.demo.management.commands.demo import DEFAULT_SEED
from keyctl.demo.plan import PLANT_ROOM_FORMATS, plan_estate
from keyctl.keys.models import Holder, KeyCopy
from keyctl.places.models import Building, Door, Site
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.selectors import tops_of
from keyctl.systems.services import bitting_of
from keyctl.vault.ring import make_first_keys
from tests.keyctl.demo.likeness import Likeness, likeness
from tests.keyctl.demo.run import run_demo
from tests.keyctl.demo.stops import build_with_stops, unwatched_in_a_test


def as_a_test_does() -> transaction.Atomic:
    """What wants to be durable is so in a test's own transaction too; Django knows that one by this mark."""
    block = transaction.atomic()
    block._from_testcase = True  # type: ignore[attr-defined]
    return block


@dataclass(frozen=True)
class Built:
    printed: str
    folder: Path
    stops: int
    stopped: Likeness
    undisturbed: Likeness


@pytest.fixture(scope="module")
def estate(
    django_db_setup: None, django_db_blocker: DjangoDbBlocker, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Built]:
    """One estate for the tests that only look at it; taken out of the database again at the end.

    Its building was stopped again and again; before that, another one was built in one go.
    """
    folder = tmp_path_factory.mktemp("demo")
    with django_db_blocker.unblock(), as_a_test_does(), override_settings(DATA_DIR=folder):
        undisturbed = built_in_one_go()
        stops, stopped = built_with_stops()
        yield Built(run_demo(), folder, stops, stopped, undisturbed)
        transaction.set_rollback(True)


def built_in_one_go() -> Likeness:
    with pytest.MonkeyPatch.context() as patch, transaction.atomic():
        patch.setattr(build, "unwatched", unwatched_in_a_test)
        make_first_keys()
        build.begin(plan_estate(600, DEFAULT_SEED))
        build.build_estate(lambda _line: None)
        found = likeness()
        transaction.set_rollback(True)
    return found


def built_with_stops() -> tuple[int, Likeness]:
    with pytest.MonkeyPatch.context() as patch:
        build.begin(plan_estate(600, DEFAULT_SEED))
        return build_with_stops(patch), likeness()


@pytest.fixture
def printed(estate: Built, db: None, settings: Settings) -> str:
    settings.DATA_DIR = estate.folder
    return estate.printed


def test_stops_change_nothing_of_the_estate(printed: str, estate: Built) -> None:
    assert estate.stops > 40
    assert estate.undisturbed["keys.keycopy"].total() == 900
    other = {name: rows - estate.undisturbed[name] for name, rows in estate.stopped.items()}
    assert {name: rows for name, rows in other.items() if rows} == {}


def test_one_key_in_the_other_cabinet_makes_two_estates_differ(printed: str, estate: Built) -> None:
    copy = KeyCopy.objects.filter(state=KeyCopy.State.IN_CABINET, custodies=None).order_by("serial")[0]
    other = copy.site.cabinets.exclude(copies=copy).get()
    KeyCopy.objects.filter(pk=copy.pk).update(cabinet=other)
    assert (likeness()["keys.keycopy"] - estate.stopped["keys.keycopy"]).total() == 1


def test_it_is_as_large_as_promised(printed: str) -> None:
    assert Site.objects.count() >= 3
    assert Building.objects.count() >= 12
    assert Door.objects.count() >= 600
    assert Core.objects.count() >= 640
    assert KeyCopy.objects.count() >= 900
    assert Holder.objects.count() >= 60
    assert set(KeySystem.objects.values_list("format_id", flat=True)) == {
        "small-a2-7",
        "small-a4-7",
        *PLANT_ROOM_FORMATS,
    }
    assert KeySystem.objects.filter(levels=4).exists()


def test_history_reaches_back_two_years(printed: str) -> None:
    days = (Event.objects.latest("at").at - Event.objects.earliest("at").at).days
    assert 600 < days <= 731


def test_the_summary_counts_the_pairs_and_no_disagreement(printed: str) -> None:
    pinned = Core.objects.filter(pinning__isnull=False).count()
    assert f"pairs proven {pinned * KeySymbol.objects.count()} " in printed
    assert printed.count("disagreements 0") == 1


def test_the_proof_equals_trying_keys_one_by_one(printed: str) -> None:
    """Every key of a system against some of its cores, by `turn` alone and not by the index of the proof."""
    for system in KeySystem.objects.all():
        keys = {symbol.pk: bitting_of(symbol) for symbol in system.symbols.all()}
        for core in islice(Core.objects.filter(system=system, pinning__isnull=False).order_by("tag"), 8):
            pinned = pins_of(core)
            tried = {
                key
                for key, bitting in keys.items()
                if engine.try_key(pinned, engine.read_key(system.format_id, bitting)).operates
            }
            assert (
                set(Turn.objects.filter(core=core, operates=True).values_list("symbol", flat=True)) == tried
            )


def test_it_prints_a_sheet_and_a_sign_in_for_each_role(printed: str, estate: Built) -> None:
    sheet = next(estate.folder.glob("pinning-sheet-*.pdf"))
    assert sheet.read_bytes().startswith(b"%PDF-")
    assert len(re.findall(r"(?:[0-9a-f]{4}-){3}[0-9a-f]{4}", printed)) == 7


def test_a_second_run_builds_nothing_and_shows_no_password(printed: str) -> None:
    doors, copies = Door.objects.count(), KeyCopy.objects.count()
    again = run_demo()
    assert (Door.objects.count(), KeyCopy.objects.count()) == (doors, copies)
    assert "disagreements 0" in again
    assert not re.search(r"(?:[0-9a-f]{4}-){3}[0-9a-f]{4}", again)


def test_another_size_wants_another_folder(printed: str) -> None:
    with pytest.raises(CommandError, match="estate of 600 doors"):
        run_demo(doors=700)


def test_a_plan_of_a_hundred_thousand_doors_has_twenty_sites_and_as_many_keys_as_promised() -> None:
    plan = plan_estate(100_000, seed=1)
    assert (plan.sites, plan.copies, len(plan.buildings)) == (20, 120_000, 1000)
    assert sum(plan.copies_at(site) for site in range(plan.sites)) == 120_000
    constructions = {engine.load_format(system.format_id).construction for system in plan.systems}
    assert len(constructions) >= 4
    assert sum(system.doors for system in plan.systems) == 100_000
    assert sum(plan.spares_of(nth) for nth in range(len(plan.systems))) == plan.spare_cores
    assert len({system.code for system in plan.systems}) == len(plan.systems)
    assert len({building.code for building in plan.buildings}) == len(plan.buildings)


@pytest.mark.parametrize("doors", [600, 5000, 50_000, 100_000])
def test_the_plan_gives_every_door_a_floor(doors: int) -> None:
    plan = plan_estate(doors, seed=1)
    assert sum(building.doors for building in plan.buildings) == doors
    assert {building.site for building in plan.buildings} == set(range(plan.sites))


def test_thirty_decoded_cores_of_a_system_show_its_top_master_among_three(printed: str) -> None:
    tried = 0
    for system in KeySystem.objects.all():
        cores = list(Core.objects.filter(system=system, pinning__isnull=False).order_by("pk"))
        top = tops_of(system)[0]
        for seed in range(3):
            chosen = Random(seed).sample(cores, min(30, len(cores)))
            seen = [engine.seen_pins(str(core), pins_of(core)) for core in chosen]
            first = engine.reconstruct(system.format_id, seen, {}).found.candidates[:3]
            assert bitting_of(top) in [candidate.bitting.text for candidate in first], system.code
            tried += len(chosen) == 30
    assert tried >= 6
