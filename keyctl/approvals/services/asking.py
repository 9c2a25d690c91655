"""Asking for keys by doors."""

from collections.abc import Sequence
from datetime import date

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.approvals.knowing import known_doors
from keyctl.approvals.models import KeyRequest
from keyctl.approvals.services.locking import tell
from keyctl.approvals.services.stepping import open_first_step
from keyctl.keys.access import sign_in_of
from keyctl.keys.models import Holder
from keyctl.keys.services import locked_holder, own_holder
from keyctl.lib.days import day
from keyctl.lib.errors import Refused
from keyctl.places.models import Building, Door

MOST_DOORS = 60
NO_SUCH_DOOR = gettext_lazy("A door that you chose is not there. Choose from the list.")


@transaction.atomic
def ask_for_key(
    *,
    actor: User,
    doors: Sequence[Door],
    reason: str,
    holder: Holder | None = None,
    starts_on: date | None = None,
    needed_until: date | None = None,
) -> KeyRequest:
    """Without a holder the key is for the actor."""
    building = _building_of(actor, doors)
    # Held: whose right to keys ends at this moment has no request left open.
    holder = locked_holder(holder or own_holder(actor=actor, site=building.site))
    _refuse_asking(holder, building, reason)
    _refuse_period(starts_on, needed_until)
    request = KeyRequest.objects.create(
        building=building,
        holder=holder,
        holder_user=sign_in_of(holder),
        requester=actor,
        reason=reason.strip(),
        starts_on=starts_on,
        needed_until=needed_until,
    )
    request.doors.set(doors)
    open_first_step(request)
    tell(
        actor,
        request,
        "request.asked",
        f"asked for {_doors(doors)} in {building}, for {holder}",
        things=doors,
    )
    return request


def _building_of(actor: User, doors: Sequence[Door]) -> Building:
    if not doors:
        raise Refused(_("Choose at least one door."))
    if len(doors) > MOST_DOORS:
        raise Refused(
            _("Ask for at most {most_doors} doors at a time. Make a second request for the others.").format(
                most_doors=MOST_DOORS
            )
        )
    _refuse_unknown(actor, doors)
    buildings = {door.building for door in doors}
    if len(buildings) > 1:
        raise Refused(_("All doors of one request are in one building. Make a request for each building."))
    return buildings.pop()


def _refuse_unknown(actor: User, doors: Sequence[Door]) -> None:
    """In the words of a door that is not there: nobody finds out by trying which doors there are."""
    for site in {door.site for door in doors}:
        wanted = {door.pk for door in doors if door.site == site}
        if known_doors(actor, site).filter(pk__in=wanted).count() < len(wanted):
            raise Refused(NO_SUCH_DOOR)


def _refuse_asking(holder: Holder, building: Building, reason: str) -> None:
    if holder.site_id != building.site_id:
        raise Refused(
            _("{holder} is not a holder at {site}. The key desk there registers them.").format(
                holder=holder, site=building.site
            )
        )
    if not holder.is_active:
        raise Refused(_("{holder} no longer receives keys. Ask the key desk.").format(holder=holder))
    if not reason.strip():
        raise Refused(_("Say what the key is needed for: the manager decides by it."))


def _refuse_period(starts_on: date | None, needed_until: date | None) -> None:
    if needed_until and needed_until < timezone.localdate():
        raise Refused(_("{until} is past. Choose a later day.").format(until=day(needed_until)))
    if starts_on and needed_until and needed_until < starts_on:
        raise Refused(_("The key would be due back before it is needed. Turn the two days round."))


def _doors(doors: Sequence[Door]) -> str:
    return f"a key to {doors[0].number}" if len(doors) == 1 else f"keys to {len(doors)} doors"
