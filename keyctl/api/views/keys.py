"""Key systems, keys by their symbols, cabinets; and copies, which come, go out and come back."""

from uuid import UUID

from django.db.models import QuerySet

from keyctl.api import key_selectors as selectors
from keyctl.api.key_selectors import Filters
from keyctl.api.models import Scope
from keyctl.api.serializers.keys import (
    CabinetFilters,
    CabinetSerializer,
    HandOutSerializer,
    KeyCopyFilters,
    KeyCopySerializer,
    KeyFilters,
    KeySerializer,
    KeySystemFilters,
    KeySystemSerializer,
    NewKeyCopySerializer,
    TakeBackSerializer,
)
from keyctl.api.serializers.people import require_to_name
from keyctl.api.views.base import Resource, described
from keyctl.api.views.quiet import Quiet
from keyctl.api.views.writing import Bulk, Creates, Facts, act, one_of, written
from keyctl.keys.models import Cabinet, Holder, KeyCopy
from keyctl.keys.services import Signature, cut_copies, issue_keys, return_keys
from keyctl.places.access import visible_sites
from keyctl.systems.models import KeySymbol, KeySystem


@described("Key systems", "One key system", KeySystemSerializer, KeySystemFilters)
class KeySystems(Resource):
    """The key systems used at this token's sites. What they were drawn with is in no answer."""

    queryset = KeySystem.objects.none()
    serializer_class = KeySystemSerializer
    filters_class = KeySystemFilters
    scopes = {"GET": Scope.KEYS_READ}

    def rows(self, filters: Filters) -> QuerySet[KeySystem]:
        return selectors.systems(self.actor, filters)


@described("Keys", "One key", KeySerializer, KeyFilters)
class Keys(Resource):
    """Keys by their symbols, with the master right above each. How a key is cut is in no answer."""

    queryset = KeySymbol.objects.none()
    serializer_class = KeySerializer
    filters_class = KeyFilters
    is_walked = True
    scopes = {"GET": Scope.KEYS_READ}

    def rows(self, filters: Filters) -> QuerySet[KeySymbol]:
        return selectors.keys(self.actor, filters)


@described("Cabinets", "One cabinet", CabinetSerializer, CabinetFilters)
class Cabinets(Resource):
    """Where copies hang that nobody has."""

    queryset = Cabinet.objects.none()
    serializer_class = CabinetSerializer
    filters_class = CabinetFilters
    scopes = {"GET": Scope.KEYS_READ}

    def rows(self, filters: Filters) -> QuerySet[Cabinet]:
        return selectors.cabinets(self.actor, filters)


@described("Key copies", "One key copy", KeyCopySerializer, KeyCopyFilters)
@written("a key copy", new=NewKeyCopySerializer)
class KeyCopies(Bulk, Creates, Quiet):
    """Cut keys by their serials: where each is. Who has it is named with the scope for holders alone.

    A program registers, hands out and takes back as the desk does, by the same rules; masters and control
    keys it only takes back. What is lost, found, broken or destroyed, a person says.
    """

    queryset = KeyCopy.objects.none()
    serializer_class = KeyCopySerializer
    filters_class = KeyCopyFilters
    is_walked = True
    scopes = {"GET": Scope.KEYS_READ, "POST": Scope.KEYS_WRITE}
    detail_route = "key-copy"
    may_tell_of_people = frozenset({"hand_out", "take_back"})

    def rows(self, filters: Filters) -> QuerySet[KeyCopy]:
        if "holder" in filters:
            require_to_name(self.get_serializer_context())
        return selectors.copies(self.actor, filters)

    def lock(self, pk: UUID) -> None:
        """Whoever takes a key is held before its copy, as at the desk."""
        if self.action == "hand_out":
            facts = self.facts(HandOutSerializer, self.request.data)
            taker = Holder.objects.select_for_update(no_key=True).filter(pk=facts["holder"])
            list(taker.values("pk"))
        super().lock(pk)

    def make(self, facts: Facts) -> KeyCopy:
        symbol = one_of(selectors.keys(self.actor, {}), facts["key"], "key")
        site = one_of(visible_sites(self.actor), facts["site"], "site")
        cabinet = one_of(selectors.cabinets(self.actor, {}), facts["cabinet"], "cabinet")
        (made,) = cut_copies(
            actor=self.actor,
            symbol=symbol,
            site=site,
            cabinet=cabinet,
            count=1,
            stamp=facts.get("stamp", ""),
        )
        return made

    @act("Hand a key copy out", HandOutSerializer, KeyCopySerializer)
    def hand_out(self, row: KeyCopy, facts: Facts) -> None:
        """Signed for by the name that the holder typed; the rules of the desk hold, and no masters go."""
        holder = one_of(selectors.holders(self.actor, {}), facts["holder"], "holder")
        issue_keys(
            actor=self.actor,
            holder=holder,
            copies=[row],
            signature=Signature(facts["signed_as"]),
            due_at=facts.get("due_at"),
        )

    @act("Take a key copy back", TakeBackSerializer, KeyCopySerializer)
    def take_back(self, row: KeyCopy, facts: Facts) -> None:
        """Any key comes back; one that was reported lost is taken in by a person."""
        cabinet = one_of(selectors.cabinets(self.actor, {}), facts["cabinet"], "cabinet")
        return_keys(
            actor=self.actor,
            copies=[row],
            cabinet=cabinet,
            brought_by=facts.get("brought_by", ""),
            conditions={row.pk: facts.get("condition", "")},
        )
