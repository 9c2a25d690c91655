"""The invented key desk as a clerk left it: two keys on the counter, mail addresses, a pause of reminders."""

from datetime import timedelta
from typing import Any

from django.db.models import CharField, F, Value
from django.db.models.functions import Concat, Replace
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.desk.services import choose_taker, pause_reminders, scan
from keyctl.keys.models import Handover, Holder, KeyCopy
from keyctl.places.models import Site
from keyctl.places.roles import Role

KEYS_ON_COUNTER = 2
# A name for examples (RFC 2606): mail to it reaches nobody.
DOMAIN = "example.org"


def build_desk(people: dict[Role, User]) -> None:
    site, clerk = Site.objects.order_by("code")[0], people[Role.KEY_DESK]
    _give_addresses()
    holders = Holder.objects.filter(site=site, is_active=True, user=None).exclude(email="").order_by("name")
    for holder in holders[:1]:
        _lay_keys(site, clerk, holder)
    until = timezone.localdate() + timedelta(days=20)
    for holder in holders[1:2]:
        pause_reminders(actor=clerk, holder=holder, until=until, reason="On a field trip; agreed at the desk")


def _give_addresses() -> None:
    """All but the students have one: the pages show mail that waits, and people to call."""
    local = Replace(F("name"), Value(" "), Value("."), output_field=CharField())
    holders = Holder.objects.filter(user=None).exclude(kind="student")
    holders.update(email=Concat(local, Value(f"@{DOMAIN}"), output_field=CharField()))
    users = User.objects.filter(email="", username__in=[role.value for role in Role])
    users.update(email=Concat("username", Value(f"@{DOMAIN}"), output_field=CharField()))


def _lay_keys(site: Site, clerk: User, holder: Holder) -> None:
    place: dict[str, Any] = {"actor": clerk, "site": site, "way": Handover.Way.OUT}
    choose_taker(taker=holder, **place)
    free = KeyCopy.objects.filter(
        site=site, state=KeyCopy.State.IN_CABINET, condition=KeyCopy.Condition.SOUND
    )
    free = free.filter(reservations=None, symbol__kind="change").order_by("serial")
    for copy in free[:KEYS_ON_COUNTER]:
        scan(text=copy.serial, **place)
