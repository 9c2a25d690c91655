"""What the events of a batch name, read once: only what never changes is used of it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeVar
from uuid import UUID

from django.db.models import Model, QuerySet
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.field.models import FieldEvent
from keyctl.field.parsing import (
    Body,
    Checked,
    Found,
    Noted,
    Photographed,
    Put,
    Swapped,
    Told,
    Unreached,
    read_body,
)
from keyctl.lib.errors import Refused
from keyctl.lib.prepared import Prepared, Slot
from keyctl.orders.models import OrderLine
from keyctl.places.models import Door, Housing, Membership
from keyctl.places.roles import Role

# The same words for what is not known and for what is another's: neither is told from the other.
NOT_HERE = gettext_lazy(
    "It names something that is not known where this person works. It is kept as it was told, "
    "and whoever is concerned looks at it."
)


_PLACES = "door__floor__building__site"
# A tablet that has a network sends act after act, and each names one housing and two cores at most.
_HOUSING = Prepared(lambda: Housing.objects.select_related(_PLACES).filter(pk=Slot("pk")).order_by())
_PAIR = Prepared(
    lambda: Core.objects.only("tag", "site").filter(tag__in=[Slot("one"), Slot("other")]).order_by()
)
_WORKS_AT = Prepared(
    lambda: (
        Membership.objects.filter(user=Slot("user"), role=Role.LOCKSMITH)
        .order_by()
        .values_list("site_id", flat=True)
    )
)

M = TypeVar("M", bound=Model)
NOBODY = UUID(int=0)


@dataclass(frozen=True)
class Things:
    cores: Mapping[str, Core]
    housings: Mapping[UUID, Housing]
    doors: Mapping[UUID, Door]
    lines: Mapping[UUID, OrderLine]
    people: Mapping[UUID, User]
    _rights: dict[UUID, frozenset[UUID]] = field(default_factory=dict)

    @classmethod
    def of(cls, told: Sequence[Told], *known: User) -> "Things":
        bodies = [each.body for each in told]
        lines = OrderLine.objects.select_related("order__site", f"housing__{_PLACES}")
        strangers = {each.person for each in told} - {user.pk for user in known}
        return cls(
            cores=_by_tag(tags_of(bodies)),
            housings=_housings(housings_of(bodies)),
            doors=_by_pk(Door.objects.with_places(), _doors_of(bodies)),
            lines=_by_pk(lines, _lines_of(bodies)),
            people=_by_pk(User.objects.all(), strangers) | {user.pk: user for user in known},
        )

    def works_at(self, person: User) -> frozenset[UUID]:
        """The sites where the person is locksmith; the services ask again when something is written."""
        if person.pk not in self._rights:
            self._rights[person.pk] = frozenset(_WORKS_AT.rows(user=person.pk))
        return self._rights[person.pk]

    def core(self, person: User, tag: str) -> Core:
        core = self.cores.get(tag)
        if core is None or core.site_id not in self.works_at(person):
            raise Refused(NOT_HERE)
        return core

    def housing(self, person: User, pk: UUID) -> Housing:
        housing = self.housings.get(pk)
        if housing is None or housing.door.site.pk not in self.works_at(person):
            raise Refused(NOT_HERE)
        return housing

    def door(self, person: User, pk: UUID) -> Door:
        door = self.doors.get(pk)
        if door is None or door.site.pk not in self.works_at(person):
            raise Refused(NOT_HERE)
        return door

    def line(self, person: User, pk: UUID) -> OrderLine:
        line = self.lines.get(pk)
        if line is None or line.order.site_id not in self.works_at(person):
            raise Refused(NOT_HERE)
        return line


def tags_of(bodies: Iterable[Body]) -> set[str]:
    tags: set[str] = set()
    for body in bodies:
        if isinstance(body, Swapped):
            tags |= {body.core_in, body.core_out}
        elif isinstance(body, Put | Found):
            tags.add(body.core)
    return tags - {""}


def housings_of(bodies: Iterable[Body]) -> set[UUID]:
    return {body.housing for body in bodies if isinstance(body, Swapped | Found)}


def _doors_of(bodies: Iterable[Body]) -> set[UUID]:
    return {body.door for body in bodies if isinstance(body, Noted | Photographed) and body.door}


def _lines_of(bodies: Iterable[Body]) -> set[UUID]:
    with_line = Swapped | Unreached | Checked | Noted | Photographed
    return {body.line for body in bodies if isinstance(body, with_line) and body.line}


def _by_tag(tags: set[str]) -> dict[str, Core]:
    if not tags:
        return {}
    if len(tags) <= 2:
        cores = _PAIR.rows(one=min(tags), other=max(tags))
    else:
        cores = list(Core.objects.only("tag", "site").filter(tag__in=tags).order_by())
    return {core.tag: core for core in cores}


def _housings(pks: set[UUID]) -> dict[UUID, Housing]:
    if len(pks) == 1:
        return {row.pk: row for row in _HOUSING.rows(pk=next(iter(pks)))}
    return _by_pk(Housing.objects.select_related(_PLACES), pks)


def _by_pk(rows: QuerySet[M], pks: set[UUID]) -> dict[UUID, M]:
    return {row.pk: row for row in rows.filter(pk__in=pks).order_by()} if pks else {}


def told_of(event: FieldEvent) -> Told:
    """A stored event as it was told."""
    return Told(
        event_id=event.pk,
        sequence=event.sequence,
        kind=event.kind,
        claimed_at=event.claimed_at,
        person=event.person_id or NOBODY,
        body=read_body(event.kind, event.body),
        raw_body=event.body,
        digest=event.digest,
    )
