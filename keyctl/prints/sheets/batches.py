"""The batch sheet of a pin order: kit by kit what to take from each bin, then core by core as they are built.

Unlike the pinning sheet it runs in the sequence of the bench and has room to tick what is built and tried.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import chain

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl import engine
from keyctl.accounts.fresh import FreshSignIn
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.cores.models import Core
from keyctl.cores.services import pins_to_show
from keyctl.orders.models import WorkOrder
from keyctl.orders.sequence import bench_sequence
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.prints.frame import Composed, compose
from keyctl.prints.pdf import require_printer
from keyctl.prints.press.blocks import Block, Words, loose
from keyctl.prints.sheets.core_blocks import TO_TICK, core_block
from keyctl.prints.sheets.of_orders import cores_of, head_of
from keyctl.prints.sheets.stacks import CoreOnSheet, core_on_sheet
from keyctl.reveals.services import reveal
from keyctl.reveals.things import Secret
from keyctl.stock.demand import Demand
from keyctl.stock.families import family_id, pins_in
from keyctl.stock.selectors import Need, needs_at

Shown = Sequence[tuple[Core, engine.Pinning]]


@dataclass(frozen=True)
class Batch:
    """The cores of one format, one after another, and the pins that all of them take."""

    format_name: str
    needs: tuple[Need, ...]
    cores: tuple[CoreOnSheet, ...]

    @property
    def pins(self) -> int:
        return sum(need.needed for need in self.needs)


@dataclass(frozen=True)
class BatchSheet:
    batches: tuple[Batch, ...]
    waiting: tuple[str, ...]

    @property
    def cores(self) -> int:
        return sum(len(batch.cores) for batch in self.batches)


def compose_batch_sheet(*, actor: User, order: WorkOrder, sign_in: FreshSignIn) -> Composed:
    """History knows of the print and of each core on it before the vault opens."""
    require_role(actor, order.site, Role.LOCKSMITH)
    require_printer()
    pinned, waiting = cores_of(order)
    in_sequence = _in_sequence(order, pinned)
    head = head_of(actor, order, _("Batch sheet"))

    def wanted() -> list[Secret[engine.Pinning]]:
        _record(actor, order, in_sequence, head.number)
        return [pins_to_show(core) for core in in_sequence]

    stacks = reveal(actor=actor, sign_in=sign_in, wanted=wanted)
    shown = list(zip(in_sequence, stacks, strict=True))
    sheet = BatchSheet(tuple(batches_of(order.site, shown)), tuple(map(str, waiting)))
    areas = {"cores": loose(chain.from_iterable(map(_blocks, sheet.batches)))}
    return compose("prints/batch_sheet.html", head, areas=areas, sheet=sheet)


def _blocks(batch: Batch) -> Iterator[Block]:
    """The first core stands below the name of its batch."""
    heading = Words(batch.format_name, 12, is_bold=True, tag="H2")
    for nth, core in enumerate(batch.cores):
        yield core_block(core, TO_TICK, () if nth else (heading,))


def batches_of(site: Site, shown: Shown) -> Iterator[Batch]:
    """Kit by kit, in the sequence that was given."""
    for name in dict.fromkeys(pinning.format.name for _core, pinning in shown):
        group = [(core, pinning) for core, pinning in shown if pinning.format.name == name]
        pins: Counter[tuple[str, str, int]] = Counter()
        for _core, pinning in group:
            family = family_id(pinning.format)
            pins.update({(family, role, size): n for (role, size), n in pins_in(pinning).items()})
        needs = tuple(needs_at(site, Demand(pins, ())))
        cores = tuple(core_on_sheet(core, pinning) for core, pinning in group)
        yield Batch(cores[0].format_name, needs, cores)


def _in_sequence(order: WorkOrder, pinned: Sequence[Core]) -> list[Core]:
    known = {core.pk: core for core in pinned}
    lines = bench_sequence(order)
    return [known[line.core_id] for line in lines if line.core_id in known]


@transaction.atomic
def _record(actor: User, order: WorkOrder, cores: Sequence[Core], number: str) -> None:
    record(
        actor=actor,
        verb="order.batch_sheet_printed",
        sentence=f"printed the batch sheet of order {order.number}: {len(cores)} "
        f"{'core' if len(cores) == 1 else 'cores'}",
        site_id=order.site_id,
        subjects=[order],
        detail={"number": order.number, "print": number, "cores": [core.tag for core in cores]},
    )
