"""Refusals in words that name nobody, for tokens that may not read of people."""

from typing import ClassVar

from rest_framework.response import Response

from keyctl.api.serializers.people import may_name
from keyctl.api.views.base import Resource
from keyctl.keys.programs import NoProgram
from keyctl.lib.errors import Conflict, Refused

WITHHELD = (
    "A rule of the house forbids it as things stand. The sentence that says why may name a person: it is "
    "told to tokens with the scope holders:read."
)


class Quiet(Resource):
    """The services speak to people at the desk, and say who has a key and who asked for it."""

    # The actions whose refusals may name somebody.
    may_tell_of_people: ClassVar[frozenset[str]] = frozenset()

    def handle_exception(self, exc: Exception) -> Response:
        tells = self.action in self.may_tell_of_people and isinstance(exc, Refused)
        if tells and not isinstance(exc, NoProgram) and not may_name(self.get_serializer_context()):
            exc = Conflict(WITHHELD) if isinstance(exc, Conflict) else Refused(WITHHELD)
        answered: Response = super().handle_exception(exc)
        return answered
