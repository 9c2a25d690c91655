"""What keys would let their holder open, beyond what was asked and beyond what they open already."""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from django.db.models import Case, Count, QuerySet, When

from keyctl.accounts.models import User
from keyctl.approvals.chain import GRAVEST, Needed, Rule, further_steps
from keyctl.approvals.chain import Effect as Figures
from keyctl.approvals.models import KeyRequest
from keyctl.approvals.proposals import Proposal, doors_of
from keyctl.approvals.ruling import given, opened_by, rules_of
from keyctl.keys.models import KeyCopy
from keyctl.keys.selectors import held_by
from keyctl.places.access import visible_doors
from keyctl.places.models import Building, Door

MOST_LISTED = 200
Classes = Mapping[UUID, str]
_GRAVEST_FIRST = Case(
    *(When(door_class=each, then=place) for place, each in enumerate(GRAVEST)), default=len(GRAVEST)
)


@dataclass(frozen=True)
class InBuilding:
    """Doors of one building that would open though nobody asked; ``doors`` may be the first of them only,
    those of the gravest class before the others."""

    building: Building
    count: int
    doors: list[Door]

    @property
    def unlisted(self) -> int:
        return self.count - len(self.doors)


@dataclass(frozen=True)
class OfClass:
    label: str
    is_grave: bool
    count: int
    extra: int


@dataclass(frozen=True)
class Effect:
    proposal: Proposal
    buildings: list[InBuilding]
    # Doors at sites that the reader may not look at: counted, never named.
    elsewhere: int
    classes: list[OfClass]
    held_already: list[KeyCopy]
    # How many doors the holder opens with the keys in their hands, and how many with these as well.
    before: int
    after: int
    # Who decides after whoever chooses these keys.
    further: list[Needed]

    @property
    def gained(self) -> int:
        return self.after - self.before


@dataclass(frozen=True)
class _Known:
    """What all proposals of a request are set against; read once."""

    actor: User
    request: KeyRequest
    held: list[KeyCopy]
    opened: frozenset[UUID]
    classes: Classes
    rules: Sequence[Rule]


def effects(actor: User, request: KeyRequest, proposals: Sequence[Proposal]) -> list[Effect]:
    """A handful of queries and three for each proposal, however many doors there are."""
    held = list(held_by(request.holder))
    symbols = {symbol for proposal in proposals for symbol in proposal.symbols}
    grave = opened_by(symbols).exclude(door_class=Door.DoorClass.ORDINARY)
    known = _Known(
        actor=actor,
        request=request,
        held=held,
        opened=doors_of({copy.symbol_id for copy in held}),
        classes=dict(grave.order_by().values_list("pk", "door_class")),
        rules=rules_of(request.building.site),
    )
    return [_effect(known, proposal) for proposal in proposals]


def _effect(known: _Known, proposal: Proposal) -> Effect:
    symbols = {symbol.pk for symbol in proposal.symbols}
    turned = opened_by(proposal.symbols)
    extra = visible_doors(known.actor).filter(pk__in=turned.values("pk"))
    buildings = _by_building(extra.exclude(pk__in=known.request.doors.values("pk")))
    counts = _counts(proposal.doors, known.classes)
    figures = Figures(tuple(given(symbol) for symbol in proposal.symbols), counts, len(proposal.extra))
    return Effect(
        proposal=proposal,
        buildings=buildings,
        elsewhere=len(proposal.extra) - sum(each.count for each in buildings),
        classes=_classes(counts, _counts(proposal.extra, known.classes)),
        held_already=[copy for copy in known.held if copy.symbol_id in symbols],
        before=len(known.opened),
        after=len(known.opened | proposal.doors),
        further=further_steps(known.rules, figures),
    )


def _counts(doors: frozenset[UUID], classes: Classes) -> Counter[str]:
    found = Counter(classes[door] for door in doors if door in classes)
    found[Door.DoorClass.ORDINARY] = len(doors) - found.total()
    return found


def _classes(counts: Counter[str], extra: Counter[str]) -> list[OfClass]:
    """From the gravest down, without those that no door is of."""
    return [
        OfClass(each.label, each != Door.DoorClass.ORDINARY, counts[each], extra[each])
        for each in GRAVEST
        if counts[each]
    ]


def _by_building(doors: QuerySet[Door]) -> list[InBuilding]:
    """Counts are whole; of a great many doors only the first are named."""
    counts = dict(doors.order_by().values_list("floor__building").annotate(Count("pk")))
    listed: dict[UUID, list[Door]] = defaultdict(list)
    for door in doors.order_by(_GRAVEST_FIRST, *(Door._meta.ordering or ()))[:MOST_LISTED]:
        listed[door.building.pk].append(door)
    buildings = Building.objects.filter(pk__in=counts).select_related("site")
    return [InBuilding(each, counts[each.pk], listed[each.pk]) for each in buildings]
