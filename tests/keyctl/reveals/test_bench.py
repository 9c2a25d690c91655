"""Acts at the bench show more than one thing: each wants its own ground; and questions count."""

from typing import Any

import pytest

from keyctl.accounts.fresh import SignInAgain
from keyctl.bench.jobs import Job
from keyctl.bench.services import decode_pins, read_key_by_calipers, try_key_in_core, work_out_repin
from keyctl.cores.turning import pins_of
from keyctl.engine import dump, load_format
from keyctl.reveals.errors import Missing
from keyctl.reveals.models import Reveal
from tests.keyctl.reveals.bench import Bench
from tests.permits import permit
from tests.signing import proven


def repin(bench: Bench, *names: str) -> Any:
    symbols = [bench.key(name) for name in names]
    facts: dict[str, Any] = {"actor": bench.smith, "sign_in": proven(bench.smith), "symbols": symbols}
    return work_out_repin(core=bench.core, version=bench.core.version, **facts)


def try_key(bench: Bench, name: str) -> Any:
    key = bench.key(name)
    return try_key_in_core(actor=bench.smith, core=bench.core, symbol=key, sign_in=proven(bench.smith))


def ways(refusal: Any) -> list[str]:
    return [way.label for way in refusal.value.ways]


def test_the_pins_for_another_key_say_how_it_is_cut(bench: Bench) -> None:
    permit("core", bench.core, to=bench.smith, by=bench.cast.officer)
    assert repin(bench, "AA1").change.add == {}
    with pytest.raises(Missing) as refusal:
        repin(bench, "AB1")
    assert ways(refusal) == [f"Ask to see the cuts of change key AB1 ({bench.system.code})"]
    permit("key", bench.key("AB1"), to=bench.smith, by=bench.cast.officer)
    assert repin(bench, "AB1").change.add


def test_the_pins_for_a_master_alone_are_its_cuts(bench: Bench) -> None:
    permit("core", bench.core, to=bench.smith, by=bench.cast.officer)
    with pytest.raises(Missing, match="A second person is needed") as refusal:
        repin(bench, "AA")
    assert ways(refusal) == [f"Ask to see the cuts of master key AA ({bench.system.code})"]


def test_a_key_tried_on_paper_is_shown_with_the_pins(bench: Bench) -> None:
    bench.order()
    assert try_key(bench, "AA1").verdict == "It turns the plug"
    with pytest.raises(Missing, match="A second person is needed"):
        try_key(bench, "A")
    assert Reveal.objects.count() == 2


def test_pins_held_against_the_records_count_as_a_question(bench: Bench) -> None:
    """Otherwise a few dozen guesses, position by position, would tell them."""
    bench.limit(alone_an_hour=1)
    job = Job(bench.site, load_format(bench.core.format_id), bench.core)
    stacks = dump(pins_of(bench.core))
    with pytest.raises(SignInAgain):
        decode_pins(actor=bench.smith, job=job, stacks=stacks)
    found = decode_pins(actor=bench.smith, job=job, stacks=stacks, sign_in=proven(bench.smith))
    assert found.differing == ()
    with pytest.raises(Missing, match="more than may be looked at now"):
        decode_pins(actor=bench.smith, job=job, stacks=stacks, sign_in=proven(bench.smith))
    assert Reveal.objects.get().by == "question"


def test_a_key_held_against_a_system_counts_as_a_question(bench: Bench) -> None:
    format = load_format(bench.system.format_id)
    depths = [format.root_depth_in(format.depth_values[0]) or 0.0] * format.positions
    facts: dict[str, Any] = {
        "actor": bench.smith,
        "site": bench.site,
        "format": format,
        "tolerance_in": 0.002,
    }
    with pytest.raises(SignInAgain):
        read_key_by_calipers(system=bench.system, root_depths_in=depths, **facts)
    facts["sign_in"] = proven(bench.smith)
    read_key_by_calipers(system=bench.system, root_depths_in=depths, **facts)
    assert Reveal.objects.get().words == f"which key of {bench.system.code} a measured key is"
