"""Assessing a site: the job, what it keeps, and when that is out of date."""

from dataclasses import dataclass
from itertools import product

import pytest
from django.core.exceptions import PermissionDenied

from keyctl.audit.models import Event
from keyctl.cores.models import Core
from keyctl.cores.services import pin_core
from keyctl.cores.turning import KeyFamily, pins_of
from keyctl.exposure.assessing import LARGEST_NUMBER
from keyctl.exposure.marking import marked
from keyctl.exposure.models import CoreExposure, IncidentalCount
from keyctl.exposure.selectors import Overseen, counts_of_site, counts_of_system, figures_of
from keyctl.exposure.services import assess
from keyctl.formats.models import KeywayFit
from keyctl.jobs.models import Job
from keyctl.jobs.running import Running
from keyctl.lib.errors import Conflict, Refused
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from keyctl.systems.models import KeySystem
from keyctl.systems.services import bitting_of
from keyctl.vault import services as vault
from tests import factories
from tests.cast import Cast
from tests.jobs import finish

# Five positions of A4: 6^5 bittings can be tried one by one, and single depths apart are near misses.
SMALL = {"format_id": "small-a4-5", "levels": (((1, 2), 2), ((3, 4, 5), 3))}


@dataclass(frozen=True)
class Assessed:
    cast: Cast
    system: KeySystem
    cores: list[Core]
    job: Job


@pytest.fixture
def assessed(cast: Cast) -> Assessed:
    system = factories.make_system(cast.north, actor=cast.administrator, **SMALL)  # type: ignore[arg-type]
    changes = [factories.change_key(system, nth) for nth in (0, 1, 4)]
    cores = [
        factories.make_core(actor=cast.locksmith, site=cast.north, system=system, symbols=[symbol])
        for symbol in changes
    ]
    crossed = factories.make_core(actor=cast.locksmith, site=cast.north, system=system, symbols=changes[::2])
    job = finish(assess(actor=cast.officer, site=cast.north))
    return Assessed(cast, system, [*cores, crossed], job)


def clears(core: Core, key: tuple[int, ...], control: bool = False) -> bool:
    """Pin by pin: whether one of the breaks lies at the line in every position."""
    for stack, cut in zip(pins_of(core).stacks, key, strict=True):
        height, lift, found = 0, 6 if control else 0, False
        for _, size in stack.pins[:-1]:
            height += size
            found = found or height == cut + lift
        if not found:
            return False
    return True


def every_key() -> list[tuple[int, ...]]:
    return list(product(range(6), repeat=5))


def keys_of(system: KeySystem) -> dict[str, tuple[int, ...]]:
    return {symbol.symbol: tuple(map(int, bitting_of(symbol))) for symbol in system.symbols.all()}


def test_each_core_gets_what_trying_every_bitting_gives(assessed: Assessed) -> None:
    known = keys_of(assessed.system)
    for core in assessed.cores:
        found = CoreExposure.objects.get(core=core)
        turning = {key for key in every_key() if clears(core, key)}
        planned = {known[symbol.symbol] for symbol in core.keyed_to.all()}
        planned |= {known[symbol.parent.symbol] for symbol in core.keyed_to.all() if symbol.parent}
        planned |= {key for name, key in known.items() if name == "A"}
        assert found.accepts == len(turning)
        assert found.unplanned == len(turning - planned)
        assert found.needed == found.accepts
        assert found.wafers == sum(len(stack.masters) for stack in pins_of(core).stacks)
        assert (found.pinned_at, found.keys) == (core.pinned_at, len(known))


def test_near_misses_are_those_that_one_recut_would_let_in(assessed: Assessed) -> None:
    known = keys_of(assessed.system)
    for core in assessed.cores:
        found = CoreExposure.objects.get(core=core)
        assert found.near_turning == near(core, known, control=False)
        assert found.near_withdrawing == near(core, known, control=True)


def near(core: Core, known: dict[str, tuple[int, ...]], *, control: bool) -> int:
    """Keys that fail, and would not with one cut one deeper or shallower."""
    recut = {
        key: [(*key[:place], key[place] + by, *key[place + 1 :]) for place in range(5) for by in (-1, 1)]
        for key in known.values()
    }
    return sum(
        not clears(core, key, control) and any(clears(core, other, control) for other in others)
        for key, others in recut.items()
    )


def test_the_scopes_are_counted_without_counting_twice(assessed: Assessed) -> None:
    known = set(keys_of(assessed.system).values())
    turning = {key for key in every_key() if any(clears(core, key) for core in assessed.cores)}
    withdrawing = {key for key in every_key() if any(clears(core, key, True) for core in assessed.cores)}
    expected = {"operating": len(turning - known), "control": len(withdrawing - known)}
    for counts in (counts_of_site(assessed.cast.north), counts_of_system(assessed.system)):
        assert {each.count.line: each.count.number for each in counts} == expected
        assert all(each.count.is_exact and not each.is_stale for each in counts)


def test_what_a_master_costs_is_kept_by_its_symbol(assessed: Assessed) -> None:
    """Without the top, a core keeps the cuts of its change key and of the master between."""
    found = CoreExposure.objects.get(core=assessed.cores[0])
    known = keys_of(assessed.system)
    (symbol,) = assessed.cores[0].keyed_to.all()
    assert symbol.parent is not None
    left = [known[symbol.symbol], known[symbol.parent.symbol]]
    boxes = 1
    for column in zip(*left, strict=True):
        boxes *= len(set(column))
    assert {name: accepts for name, accepts, _ in found.without}["A"] == boxes


def test_the_outcome_says_how_many_and_history_knows(assessed: Assessed) -> None:
    assert assessed.job.state == Job.State.DONE
    assert assessed.job.outcome["sentence"] == "4 cores at North site are assessed."
    event = Event.objects.get(verb="exposure.assessed")
    assert (event.actor, event.site_id) == (assessed.cast.officer, assessed.cast.north.pk)


def test_a_core_that_is_pinned_anew_is_marked(assessed: Assessed) -> None:
    core = assessed.cores[0]
    pin_core(actor=assessed.cast.locksmith, core=core, version=core.version)
    figures = figures_of(Overseen(assessed.cast.officer, site=assessed.cast.north))
    assert (figures.cores, figures.open) == (4, 1)
    assert CoreExposure.objects.select_related("core").get(core=core).is_stale
    assert all(each.is_stale for each in counts_of_site(assessed.cast.north))


def test_a_count_is_marked_once_keys_of_another_keyway_enter(assessed: Assessed) -> None:
    """And not by keys that were there already, of a keyway that does not fit."""
    cast = assessed.cast
    factories.make_system(cast.north, actor=cast.administrator, keyway="FOREIGN", **SMALL)  # type: ignore[arg-type]
    every_count = IncidentalCount.objects.all()
    assert not any(each.is_stale for each in marked(every_count))
    KeywayFit.objects.create(
        blank_keyway="FOREIGN", core_keyway=assessed.system.keyway, reason="Enters.", made_by=cast.locksmith
    )
    assert len(every_count) == 6
    assert all(each.is_stale for each in marked(every_count))


def test_assessing_again_replaces_what_was_kept(assessed: Assessed) -> None:
    finish(assess(actor=assessed.cast.locksmith, site=assessed.cast.north))
    assert CoreExposure.objects.count() == 4
    assert IncidentalCount.objects.count() == 6


def test_cores_that_are_gone_count_no_longer(assessed: Assessed) -> None:
    Core.objects.filter(pk__in=[core.pk for core in assessed.cores[1:]]).update(place=Core.Place.GONE)
    finish(assess(actor=assessed.cast.officer, site=assessed.cast.north))
    only = assessed.cores[0]
    known = set(keys_of(assessed.system).values())
    turning = {key for key in every_key() if clears(only, key)}
    counts = {each.count.line: each.count for each in counts_of_site(assessed.cast.north)}
    assert counts["operating"].number == len(turning - known)
    assert counts["operating"].cores == 1


def test_a_job_that_stopped_goes_on_with_the_next_family(cast: Cast) -> None:
    """What is left of a run that ended after its first family."""
    systems = [
        factories.make_system(cast.north, actor=cast.administrator, keyway=keyway, **SMALL)  # type: ignore[arg-type]
        for keyway in ("WA", "WB")
    ]
    for system in systems:
        factories.make_core(actor=cast.locksmith, site=cast.north, system=system)
    job = assess(actor=cast.officer, site=cast.north)
    job.checkpoint = vault.seal(job, "checkpoint", '{"families": [["small-a4-5", "WA"]]}')
    job.save(update_fields=["checkpoint"])
    assert Running(job).checkpoint == {"families": [["small-a4-5", "WA"]]}
    finish(job)
    assert set(IncidentalCount.objects.values_list("keyway", flat=True)) == {"WB"}
    assert CoreExposure.objects.get().core.system == systems[1]


def test_only_those_who_answer_for_the_site_start_it(cast: Cast) -> None:
    for name in ("auditor", "desk", "manager", "administrator"):
        with pytest.raises(PermissionDenied):
            assess(actor=cast.everybody[name], site=cast.north)


def test_who_lost_the_role_meanwhile_assesses_nothing(assessed: Assessed) -> None:
    job = assess(actor=assessed.cast.officer, site=assessed.cast.north)
    Membership.objects.filter(user=assessed.cast.officer).update(role=Role.MANAGER)
    CoreExposure.objects.all().delete()
    assert finish(job).state == Job.State.FAILED
    assert not CoreExposure.objects.exists()


def test_it_refuses_a_site_without_a_pinned_core(cast: Cast) -> None:
    with pytest.raises(Refused, match="No core at North site is pinned yet"):
        assess(actor=cast.officer, site=cast.north)


def test_a_site_is_assessed_by_one_job_at_a_time(assessed: Assessed) -> None:
    assess(actor=assessed.cast.officer, site=assessed.cast.north)
    with pytest.raises(Conflict, match="being assessed already"):
        assess(actor=assessed.cast.locksmith, site=assessed.cast.north)


def test_family_keys_are_those_of_the_keyway(assessed: Assessed) -> None:
    assert KeyFamily.of(assessed.system).symbols().count() == CoreExposure.objects.all()[0].keys
    assert LARGEST_NUMBER == 9_223_372_036_854_775_807
