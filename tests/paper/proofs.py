"""The part ``proof``: two million keys and cores tried system by system, and what the rest of a proof
takes.

The arithmetic alone on the reference estate of the benchmarks, each system in a keyway of its own; then
the product's proof of a thousand cores with sealed pins on PostgreSQL: opened, read, tried, compared,
stored.
"""

import time
from typing import Any

from tests.bench.report import Report, best_of
from tests.paper.telling import tell

CORES, CHANGES = 1_000, (5, 50)


def run(report: Report, largest: int) -> None:
    from tests.paper.server import product

    _arithmetic(report, largest)
    with product():
        _product(report, largest)


def _arithmetic(report: Report, largest: int) -> None:
    from pinning.joins import join
    from pinning.tries import BoxTrie, KeyTrie
    from tests.bench.estate import CHANGES as IN_SYSTEM
    from tests.bench.estate import DEPTHS, reference_estate

    systems = -(-largest // IN_SYSTEM)
    seconds, pairs, longest = 0.0, 0, 0.0
    for seed in range(systems):
        estate = reference_estate(IN_SYSTEM, IN_SYSTEM, seed)
        began = time.perf_counter()
        found = join(KeyTrie(estate.keys, DEPTHS), BoxTrie(estate.boxes, DEPTHS))
        took = time.perf_counter() - began
        seconds, longest, pairs = seconds + took, max(longest, took), pairs + len(found)
    of = f"{systems} systems of {IN_SYSTEM:,} keys and cores, {pairs:,} pairs"
    remark = f"{of}; the longest {longest * 1e3:.0f} ms"
    tell(report, f"{systems * IN_SYSTEM:,} keys on as many cores, keyway by keyway", seconds, "s", remark)


def _product(report: Report, largest: int) -> None:
    from keyctl.cores.models import Core
    from keyctl.cores.proof import prove_estate
    from keyctl.vault import ring
    from keyctl.vault import services as vault
    from tests.paper import filling

    maker = filling.begin()
    ring.make_first_keys()
    _cores(maker)
    cores = list(Core.objects.all())
    seconds, _ = best_of(3, lambda: [vault.unseal(core, "pinning") for core in cores])
    tell(report, "pins of a core opened", seconds / CORES * 1e6, "µs")
    first, proof = best_of(1, lambda: prove_estate(actor=maker))
    assert (proof.cores, proof.disagreements) == (CORES, [])
    again, _ = best_of(2, lambda: prove_estate(actor=maker))
    for name, took in (("turns stored for the first time", first), ("turns as they were", again)):
        remark = f"{took / CORES * largest / 60:,.0f} minutes for {largest:,} in one worker"
        tell(report, f"the product's proof, {name}", CORES / took, "cores/s", remark)


def _cores(maker: Any) -> None:
    """One core pinned by its service; the others hold the same pins, each sealed to its own row."""
    from keyctl.cores.models import Core, Keying
    from keyctl.places.models import Site
    from keyctl.vault import services as vault
    from tests.factories import change_key, make_core, make_system

    site = Site.objects.order_by("code")[0]
    masters, changes = CHANGES
    system = make_system(site, actor=maker, levels=(((1, 2), masters), ((3, 4, 5), changes)))
    key = change_key(system)
    model = make_core(actor=maker, site=site, system=system, symbols=[key])
    pins = vault.unseal(model, "pinning")
    about = {"site": site, "system": system, "format_id": model.format_id, "construction": model.construction}
    cores = [Core(**about, pinned_at=model.pinned_at, pinned_by=maker) for _ in range(CORES - 1)]
    for core in cores:
        core.pinning = vault.seal(core, "pinning", pins)
    Core.objects.bulk_create(cores)
    Keying.objects.bulk_create(Keying(core=core, symbol=key) for core in cores)
