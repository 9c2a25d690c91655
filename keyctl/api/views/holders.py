"""The people who hold keys: read, registered, kept, and no longer given any."""

from django.db.models import QuerySet

from keyctl.api import key_selectors as selectors
from keyctl.api.key_selectors import Filters
from keyctl.api.models import Scope
from keyctl.api.serializers.holders import (
    HolderChangeSerializer,
    HolderFilters,
    HolderSerializer,
    NewHolderSerializer,
    NoteSerializer,
)
from keyctl.api.views.base import described
from keyctl.api.views.quiet import Quiet
from keyctl.api.views.writing import Bulk, Changes, Creates, Facts, act, one_of, written
from keyctl.keys.models import Holder
from keyctl.keys.services import change_holder, deactivate_holder, reactivate_holder, register_holder
from keyctl.places.access import visible_sites


@described("Holders", "One holder", HolderSerializer, HolderFilters)
@written("a holder", new=NewHolderSerializer, change=HolderChangeSerializer)
class Holders(Bulk, Creates, Changes, Quiet):
    """People who are handed keys, each at one site."""

    queryset = Holder.objects.none()
    serializer_class = HolderSerializer
    filters_class = HolderFilters
    is_walked = True
    scopes = {"GET": Scope.HOLDERS_READ, "POST": Scope.HOLDERS_WRITE, "PATCH": Scope.HOLDERS_WRITE}
    detail_route = "holder"
    may_tell_of_people = frozenset({"partial_update", "deactivate", "reactivate"})

    def rows(self, filters: Filters) -> QuerySet[Holder]:
        return selectors.holders(self.actor, filters)

    def make(self, facts: Facts) -> Holder:
        site = one_of(visible_sites(self.actor), facts.pop("site"), "site")
        return register_holder(actor=self.actor, site=site, **facts)

    def change(self, row: Holder, facts: Facts) -> None:
        kept = {name: getattr(row, name) for name in ("name", "email", "department", "kind")}
        change_holder(actor=self.actor, holder=row, **{**kept, **facts})

    @act("End that a holder receives keys", NoteSerializer, HolderSerializer)
    def deactivate(self, row: Holder, facts: Facts) -> None:
        """What they hold is called back, and what they asked for ends."""
        deactivate_holder(actor=self.actor, holder=row, **facts)

    @act("Let a holder receive keys again", NoteSerializer, HolderSerializer)
    def reactivate(self, row: Holder, facts: Facts) -> None:
        reactivate_holder(actor=self.actor, holder=row, **facts)
