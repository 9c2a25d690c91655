"""What keys would let their holder open, beyond what was asked and beyond what they open already."""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from keyctl.accounts.models import User
from keyctl.approvals.chain import GRAVEST, Needed, Rule, further_steps
from keyctl.approvals.models import KeyRequest
from keyctl.approvals.proposals import Proposal, doors_of
from keyctl.approvals.ruling import count_classes, figures_of, grave_doors, rules_of
from keyctl.keys.models import KeyCopy
from keyctl.keys.selectors import held_by
from keyctl.lib.language import Text
from keyctl.places.access import visible_sites
from keyctl.places.models import Building, Door

MOST_LISTED = 200
# More than these are found by reading all doors once, not by naming each in a question.
FEW_DOORS = 2000


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
    label: Text
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
    # The class of each door out of the ordinary.
    grave: Mapping[UUID, str]
    places: Mapping[UUID, UUID]
    rules: Sequence[Rule]


def effects(actor: User, request: KeyRequest, proposals: Sequence[Proposal]) -> list[Effect]:
    """A handful of queries and two for each proposal, however many doors there are."""
    held = list(held_by(request.holder))
    known = _Known(
        actor=actor,
        request=request,
        held=held,
        opened=doors_of({copy.symbol_id for copy in held}),
        grave=grave_doors(),
        places=_places(actor, proposals),
        rules=rules_of(request.building.site),
    )
    return [_effect(known, proposal) for proposal in proposals]


def _effect(known: _Known, proposal: Proposal) -> Effect:
    symbols = {symbol.pk for symbol in proposal.symbols}
    buildings = _by_building(known, proposal)
    figures = figures_of(proposal, known.grave)
    return Effect(
        proposal=proposal,
        buildings=buildings,
        elsewhere=len(proposal.extra) - sum(each.count for each in buildings),
        classes=_classes(figures.doors, count_classes(proposal.extra, known.grave)),
        held_already=[copy for copy in known.held if copy.symbol_id in symbols],
        before=len(known.opened),
        after=len(known.opened | proposal.doors),
        further=further_steps(known.rules, figures),
    )


def _classes(counts: Mapping[str, int], extra: Mapping[str, int]) -> list[OfClass]:
    """From the gravest down, without those that no door is of."""
    return [
        OfClass(each.label, each != Door.DoorClass.ORDINARY, counts[each], extra[each])
        for each in GRAVEST
        if counts.get(each)
    ]


def _by_building(known: _Known, proposal: Proposal) -> list[InBuilding]:
    """Counts are whole; of a great many doors only the first are named."""
    extra = [door for door in proposal.extra if door in known.places]
    counts = Counter(known.places[door] for door in extra)
    listed: dict[UUID, list[Door]] = defaultdict(list)
    for door in _named(known, extra):
        listed[door.building.pk].append(door)
    buildings = Building.objects.filter(pk__in=list(counts)).select_related("site")
    return [InBuilding(each, counts[each.pk], listed[each.pk]) for each in buildings]


def _named(known: _Known, extra: list[UUID]) -> list[Door]:
    """The gravest first, then as one walks through the house."""

    def grade(door: UUID) -> int:
        return GRAVEST.index(Door.DoorClass(known.grave.get(door, Door.DoorClass.ORDINARY)))

    first = extra if len(extra) <= MOST_LISTED else sorted(extra, key=grade)[:MOST_LISTED]
    return sorted(Door.objects.filter(pk__in=first).with_places(), key=lambda door: grade(door.pk))


def _places(actor: User, proposals: Sequence[Proposal]) -> dict[UUID, UUID]:
    """The building of each extra door that the actor may look at."""
    wanted = frozenset[UUID]().union(*(proposal.extra for proposal in proposals))
    rows = Door.objects.filter(floor__building__site__in=visible_sites(actor)).order_by()
    if len(wanted) <= FEW_DOORS:
        rows = rows.filter(pk__in=wanted)
    return {door: at for door, at in rows.values_list("pk", "floor__building") if door in wanted}
