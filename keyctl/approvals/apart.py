"""Approving and handing out a master are two persons, on the request or past it: another copy, a transfer,
the same key once more."""

from collections.abc import Sequence

from django.db.models import Q
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.approvals.models import Grant, KeyRequest
from keyctl.keys.models import Holder, KeyCopy

State = KeyRequest.State


def masters_approved_by(actor: User, holder: Holder, copies: Sequence[KeyCopy]) -> list[str]:
    """For ``keys.handing``: a sentence per master among the copies that the actor approved for the holder."""
    wanted = {copy.symbol_id for copy in copies}
    grants = Grant.objects.filter(request__holder=holder, symbol__in=wanted, is_master=True)
    grants = grants.exclude(request__state__in=[State.WITHDRAWN, State.REFUSED])
    own = grants.filter(Q(approved_by=actor) | Q(request__steps__decided_by=actor))
    names = sorted(set(own.values_list("symbol__symbol", flat=True)))
    return [
        _("You approved the master key {name} for {holder}. Somebody else hands it out.").format(
            name=name, holder=holder
        )
        for name in names
    ]
