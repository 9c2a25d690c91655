"""The next free keys below a master: planned with their consequences, then made."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.formats.keyways import blanks_into, keyways_entered_by
from keyctl.lib.errors import Conflict, Refused
from keyctl.systems.access import require_designer
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.selectors import ancestors, control_of, line_of
from keyctl.systems.services.adding import add_symbols
from keyctl.systems.services.sealed import bitting_of, design_of, is_designed
from keyctl.systems.services.storing import NewKey
from keyctl.vault import services as vault

Kind = KeySymbol.Kind
MOST_AT_ONCE = 50


@dataclass(frozen=True)
class PlannedKey:
    """A key to come: its symbol, the nearest key by (positions, depths in sum), and the bittings that its
    core would newly accept although they are no key.
    """

    symbol: str
    nearest: tuple[int, int] | None
    incidental: int
    entry: NewKey = field(repr=False)


@dataclass(frozen=True)
class Plan:
    """Keys to come below a master. ``before`` counts the bittings that turn a core of the keyway and are no
    key, None where there are too many to count; ``mark`` tells the same plan again without its bittings.
    """

    keys: list[PlannedKey]
    before: int | None
    mark: str

    @property
    def added(self) -> int:
        return sum(key.incidental for key in self.keys)

    @property
    def after(self) -> int | None:
        return None if self.before is None else self.before + self.added

    @property
    def smallest(self) -> tuple[int, int] | None:
        return min((key.nearest for key in self.keys if key.nearest), default=None)


def plan_extension(*, actor: User, parent: KeySymbol, kind: str, policy: str, count: int) -> Plan:
    """What the policy would choose, without storing it."""
    system = parent.system
    require_designer(actor, system.sites.all())
    _refuse_place(parent, kind, count)
    estate = _estate_around(system)
    above = [bitting_of(key) for key in line_of(parent)]
    design = design_of(system) if is_designed(system) else None
    free = [] if design else _free_positions(parent, above)
    level = parent.level or 0
    chosen = engine.next_changes(estate, above, design, free, level=level, policy=policy, count=count)
    names = _next_names(parent, kind)
    keys = [
        PlannedKey(place[0], grown.nearest, grown.incidental, _entry(parent, kind, place, grown, design))
        for grown, place in zip(chosen, names, strict=False)
    ]
    text = "|".join(f"{key.symbol}:{key.entry.bitting}" for key in keys)
    return Plan(keys, engine.unplanned_before(estate), vault.fingerprint(str(parent.pk), text))


@transaction.atomic
def extend_system(
    *, actor: User, parent: KeySymbol, kind: str, policy: str, count: int, seen: str
) -> list[KeySymbol]:
    """Make the keys of a plan that was looked at; ``seen`` is its mark."""
    require_designer(actor, parent.system.sites.all())
    KeySystem.objects.select_for_update().get(pk=parent.system_id)
    plan = plan_extension(actor=actor, parent=parent, kind=kind, policy=policy, count=count)
    if plan.mark != seen:
        raise Conflict(
            _("The keys below {parent} have changed since you looked; look at the plan again.").format(
                parent=parent
            )
        )
    return add_symbols(
        actor=actor,
        system=parent.system,
        entries=[key.entry for key in plan.keys],
        origin=KeySymbol.Origin.EXTENDED,
    )


def _refuse_place(parent: KeySymbol, kind: str, count: int) -> None:
    if parent.is_retired:
        raise Refused(
            _("{parent} is retired after a loss; extend below the key that took its place.").format(
                parent=parent
            )
        )
    if not parent.is_master or parent.level is None:
        raise Refused(
            _("{parent} is no master; choose the key below which the new ones shall stand.").format(
                parent=parent
            )
        )
    if not 1 <= count <= MOST_AT_ONCE:
        raise Refused(_("Ask for 1 to {most_at_once} keys at a time.").format(most_at_once=MOST_AT_ONCE))
    if parent.level + 1 >= parent.system.levels:
        raise Refused(_("{code} has no level below {parent}.").format(code=parent.system.code, parent=parent))
    if kind == Kind.MASTER and parent.level + 2 >= parent.system.levels:
        raise Refused(
            _("Below {parent} stands the last level; only change keys can be made there.").format(
                parent=parent
            )
        )


def _estate_around(system: KeySystem) -> engine.Estate:
    """Every key that enters a core of the system, and every pinned core that its keys enter."""
    control = control_of(system)
    entering = KeySymbol.objects.filter(
        system__format_id=system.format_id, system__keyway__in=blanks_into(system.keyway)
    ).only("bitting", "parent_id", "kind", "system_id", "retired_at")
    keys = {key.pk: key for key in entering}
    texts = {pk: bitting_of(key) for pk, key in keys.items()}
    return engine.Estate(
        format_id=system.format_id,
        control=texts[control.pk] if control else None,
        keys=[text for pk, text in texts.items() if control is None or pk != control.pk],
        cores=list(_pinned_cores(system)),
        planned=[
            [texts[above] for above in _line(keys, key)]
            for key in keys.values()
            if key.system_id == system.pk and key.kind == Kind.CHANGE and not key.is_retired
        ],
    )


def _line(keys: dict[UUID, KeySymbol], key: KeySymbol) -> Iterator[UUID]:
    """A key and the masters above it, without asking the database for each."""
    step: KeySymbol | None = key
    while step is not None:
        if not step.is_retired:
            yield step.pk
        step = keys.get(step.parent_id) if step.parent_id else None


def _pinned_cores(system: KeySystem) -> Iterator[engine.Pinning]:
    """Cores lie above systems in the order of imports, so they are read through the relation."""
    entered = KeySystem.objects.filter(
        format_id=system.format_id, keyway__in=keyways_entered_by(system.keyway)
    )
    for other in entered:
        for core in other.cores.exclude(pinning=None).exclude(place="gone"):
            yield engine.restore(core.format_id, vault.unseal(core, "pinning"))


def _free_positions(parent: KeySymbol, above: Sequence[str]) -> list[int]:
    """Where keys that follow no progression may differ from their master: in the positions in which those
    there already do; with none there, in those that neither the master nor the keys above it have fixed.
    """
    children = [bitting_of(child) for child in parent.children.all()]
    if children:
        return engine.differing_positions(above[0], children)
    fixed = set(engine.differing_positions(above[0], above[1:]))
    return [position for position in range(1, len(above[0]) + 1) if position not in fixed]


def _next_names(parent: KeySymbol, kind: str) -> Iterator[tuple[str, int]]:
    """Symbols and their ordinals, from the first after the last one there."""
    path = [key.ordinal for key in reversed([parent, *ancestors(parent)]) if key.level]
    last = parent.children.filter(kind=kind).order_by("-ordinal").values_list("ordinal", flat=True).first()
    taken = set(parent.system.symbols.values_list("symbol", flat=True))
    ordinal = -1 if last is None else last
    while True:
        ordinal += 1
        name = engine.symbol_below(parent.system.levels, path, ordinal, is_master=kind == Kind.MASTER)
        if name not in taken:
            yield name, ordinal


def _entry(
    parent: KeySymbol, kind: str, place: tuple[str, int], grown: engine.Grown, design: engine.Design | None
) -> NewKey:
    name, ordinal = place
    level = (parent.level or 0) + 1
    is_master = kind == Kind.MASTER
    room = design.room_below(grown.bitting, level) if design and is_master else None
    return NewKey(name, Kind(kind), grown.bitting, parent, level, ordinal, room)
