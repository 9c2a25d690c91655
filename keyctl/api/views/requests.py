"""Requests for keys: read, asked, taken back. A program approves none."""

from django.db.models import QuerySet

from keyctl.api import key_selectors as selectors
from keyctl.api.key_selectors import Filters
from keyctl.api.models import Scope
from keyctl.api.serializers.fields import StrictSerializer
from keyctl.api.serializers.people import require_to_name
from keyctl.api.serializers.requests import (
    KeyRequestFilters,
    KeyRequestSerializer,
    NewKeyRequestSerializer,
)
from keyctl.api.views.base import described
from keyctl.api.views.orders import named
from keyctl.api.views.quiet import Quiet
from keyctl.api.views.writing import Creates, Facts, act, one_of, written
from keyctl.approvals.models import KeyRequest
from keyctl.approvals.services import ask_for_key, withdraw_request
from keyctl.places.access import visible_doors


@described("Requests for keys", "One request for keys", KeyRequestSerializer, KeyRequestFilters)
@written("a request for keys", new=NewKeyRequestSerializer)
class KeyRequests(Creates, Quiet):
    """Requests with their decisions and the keys that were approved. Nobody decides one here."""

    queryset = KeyRequest.objects.none()
    serializer_class = KeyRequestSerializer
    filters_class = KeyRequestFilters
    is_walked = True
    scopes = {"GET": Scope.REQUESTS_READ, "POST": Scope.REQUESTS_WRITE}
    detail_route = "request"
    may_tell_of_people = frozenset({"create", "withdraw"})

    def rows(self, filters: Filters) -> QuerySet[KeyRequest]:
        if "holder" in filters:
            require_to_name(self.get_serializer_context())
        return selectors.requests(self.actor, filters)

    def make(self, facts: Facts) -> KeyRequest:
        """The holder asks for nothing by this: the program does, and history names it."""
        doors = named(visible_doors(self.actor), facts.pop("doors"), "doors")
        holder = one_of(selectors.holders(self.actor, {}), facts.pop("holder"), "holder")
        return ask_for_key(actor=self.actor, doors=doors, holder=holder, **facts)

    @act("Take a request for keys back", StrictSerializer, KeyRequestSerializer)
    def withdraw(self, row: KeyRequest, _facts: Facts) -> None:
        """Only what this token asked, and only until a key is in somebody's hand."""
        withdraw_request(actor=self.actor, request=row)
