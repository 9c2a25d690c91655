"""Reading cores. What each holds comes from the pinning of the package, taken apart into single pins here."""

from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404

from keyctl.audit.selectors import history_of
from keyctl.cores.models import Core
from keyctl.lib.errors import Conflict, Refused
from keyctl.recovery import services
from keyctl.recovery.services.reading import findings_of
from tests import factories
from tests.cast import Cast
from tests.keyctl.recovery.loss import (
    Loss,
    altered,
    fresh,
    inches,
    now,
    set_up,
    sizes,
    with_other_control,
)


def test_one_core_is_not_enough(loss: Loss) -> None:
    case = loss.case()
    loss.read(case, loss.core())
    assert fresh(case).findings is None
    assert "another core is needed" in history_of(case)[0].sentence


def test_two_cores_of_the_system_agree(loss: Loss) -> None:
    case = loss.agreed()
    assert case.findings is not None
    assert "2 cores agree" in history_of(case)[0].sentence


@pytest.mark.parametrize("format_id", ["small-a3-6", "small-a4-7", "large-sleeve-34"])
def test_other_constructions_with_a_sleeve_agree_too(cast: Cast, format_id: str) -> None:
    assert set_up(cast, format_id).agreed().findings is not None


def test_control_pins_numbered_from_the_sleeve_are_taken_as_such(cast: Cast) -> None:
    large = set_up(cast, "large-sleeve-2345")
    case, cores = large.case(), [large.core(0), large.core(1)]
    for core in cores:
        written = [
            (*stack[:-2], stack[-2] - 6, stack[-1]) if at in (2, 3, 4, 5) else stack
            for at, stack in enumerate(sizes(core), start=1)
        ]
        large.read(case, core, written)
    assert fresh(case).findings is not None
    control = [int(sign) for sign in large.control()]
    assert all(control[at] in findings_of(case)[0].cuts[at] for at in range(6))


@pytest.mark.parametrize("off", ["0", "0.0019", "-0.0019"])
def test_a_micrometer_reads_the_same_within_the_tolerance(loss: Loss, off: str) -> None:
    case, core = loss.case(), loss.core()
    services.read_core(
        actor=loss.smith, case=case, version=now(case), core=core, pins=inches(core, off), in_inches=True
    )
    read = findings_of(case)[0]
    assert [cuts[0] for cuts in read.cuts] == [int(sign) for sign in loss.control()]


def test_a_pin_between_two_sizes_is_doubtful_and_nothing_is_written(loss: Loss) -> None:
    case, core = loss.case(), loss.core()
    with pytest.raises(Refused, match="Nothing was written down") as refusal:
        services.read_core(
            actor=loss.smith,
            case=case,
            version=now(case),
            core=core,
            pins=inches(core, "0.0062"),
            in_inches=True,
        )
    assert "lies between" in " ".join(refusal.value.reasons)
    assert not case.readings.exists()


def test_a_right_total_of_impossible_pins_is_caught_with_alternatives(loss: Loss) -> None:
    """5, 2, 14, 2 adds up to 23 and decodes to control cut 11, which no A2 key has (trade forum)."""
    case, core = loss.case(), loss.core()
    with pytest.raises(Refused) as refusal:
        loss.read(case, core, altered(sizes(core), 4, [5, 2, 14, 2]))
    told = " ".join(refusal.value.reasons)
    assert "Position 4" in told
    assert "It may be: bottom 5" in told


def test_it_refuses_too_few_pins_in_a_chamber(loss: Loss) -> None:
    case, core = loss.case(), loss.core()
    with pytest.raises(Refused, match="Position 2: 3 pins at least"):
        loss.read(case, core, altered(sizes(core), 2, [5, 18]))


def test_it_refuses_fractions_as_kit_numbers(loss: Loss) -> None:
    case, core = loss.case(), loss.core()
    pins = [(Decimal("0.185"), *stack[1:]) for stack in sizes(core)]
    with pytest.raises(Refused, match="kit numbers are whole"):
        loss.read(case, core, pins)


def test_another_control_key_in_the_second_core_contradicts(loss: Loss) -> None:
    case, first, second = loss.case(), loss.core(0), loss.core(1)
    loss.read(case, first)
    pins = sizes(second)
    by = 1 if int(pins[2][-1]) > 3 else -1
    loss.read(case, second, with_other_control(pins, 3, by))
    assert fresh(case).findings is None
    assert "2 cores do not agree" in history_of(case)[0].sentence


def test_the_same_core_is_not_read_twice(loss: Loss) -> None:
    case, core = loss.case(), loss.core()
    loss.read(case, core)
    with pytest.raises(Refused, match="wants another core"):
        loss.read(case, core)


def test_it_refuses_a_core_of_another_system(loss: Loss) -> None:
    other = factories.make_system(loss.site, actor=loss.cast.administrator)
    case, core = loss.case(), loss.core(system=other)
    with pytest.raises(Refused, match="is not one of"):
        loss.read(case, core)


def test_it_refuses_a_core_that_is_gone(loss: Loss) -> None:
    case, core = loss.case(), loss.core()
    core.place = Core.Place.GONE
    core.save(update_fields=["place"])
    with pytest.raises(Refused, match="is gone by the records"):
        loss.read(case, core)


def test_an_old_page_reads_nothing(loss: Loss) -> None:
    case, core = loss.case(), loss.core()
    seen = now(case)
    loss.read(case, core)
    with pytest.raises(Conflict, match="has changed since you looked at it: Locksmith read core"):
        services.read_core(
            actor=loss.smith, case=case, version=seen, core=loss.core(1), pins=sizes(loss.core(1))
        )


def test_a_reading_set_aside_no_longer_counts(loss: Loss) -> None:
    case = loss.agreed()
    reading = case.readings.all()[0]
    services.set_aside_reading(actor=loss.smith, reading=reading, version=now(case))
    assert fresh(case).findings is None
    assert case.readings.count() == 2


def test_a_core_set_aside_can_be_read_anew(loss: Loss) -> None:
    case = loss.agreed()
    reading = case.readings.all()[0]
    services.set_aside_reading(actor=loss.smith, reading=reading, version=now(case))
    loss.read(case, reading.core)
    assert fresh(case).findings is not None


def test_a_third_core_narrows_what_the_sleeve_leaves_open(cast: Cast) -> None:
    large = set_up(cast, "large-sleeve-34")
    case = large.case()
    rooms = []
    for nth in range(3):
        large.read(case, large.core(nth))
        columns = zip(*(finding.cuts for finding in findings_of(case)), strict=True)
        rooms.append(sum(len(set.intersection(*map(set, column))) for column in columns))
    assert rooms[0] > rooms[-1]


@pytest.mark.parametrize("role", ["desk", "manager", "officer", "auditor", "requester", "administrator"])
def test_only_a_locksmith_reads_a_core(loss: Loss, role: str) -> None:
    case, core = loss.case(), loss.core()
    with pytest.raises(PermissionDenied):
        loss.read(case, core, actor=loss.cast.everybody[role])


def test_a_locksmith_of_another_site_finds_no_case(loss: Loss) -> None:
    case, core = loss.case(), loss.core()
    with pytest.raises(Http404):
        loss.read(case, core, actor=loss.cast.stranger)


def test_neither_pins_nor_cuts_stand_in_the_history(loss: Loss) -> None:
    case = loss.agreed()
    told = " ".join(f"{event.sentence} {event.detail}" for event in history_of(case))
    assert loss.control() not in told
    assert "pins" not in told


def test_what_was_read_is_sealed_to_its_own_row(loss: Loss) -> None:
    from keyctl.vault.errors import Tampered

    case = loss.agreed()
    first, second = case.readings.all()
    assert loss.control().encode() not in bytes(first.findings)
    first.findings = second.findings
    first.save(update_fields=["findings"])
    with pytest.raises(Tampered):
        findings_of(case)
