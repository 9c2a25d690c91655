"""What is due after a loss, by door class; officers and administrators set it for their site."""

from collections.abc import Mapping
from functools import partial

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.language import in_english
from keyctl.losses.access import RULERS
from keyctl.losses.models import LossRule
from keyctl.losses.shares import Shares
from keyctl.losses.wording import share_words
from keyctl.places.access import require_role
from keyctl.places.models import Door, Site

MOST = 1000


@transaction.atomic
def set_rules(*, actor: User, site: Site, shares: Mapping[str, int], seen: Mapping[str, int]) -> Site:
    """By door class, shares in a thousand; ``seen`` is what the page showed before."""
    require_role(actor, site, *RULERS)
    Site.objects.select_for_update().get(pk=site.pk)
    now = shares_at(site)
    _refuse(shares)
    if any(now[name] != seen.get(name) for name in shares):
        raise Conflict(
            _("Somebody set the rules of {site} meanwhile. Look again, then decide.").format(site=site)
        )
    changed = {name: share for name, share in shares.items() if share != now[name]}
    if not changed:
        raise Refused(_("These are the rules already. Change a share, or leave it."))
    for name, share in changed.items():
        LossRule.objects.update_or_create(
            site=site,
            door_class=name,
            defaults={"share": share, "changed_by": actor, "changed_at": timezone.now()},
        )
    words = "; ".join(
        f"{in_english(Door.DoorClass(name).label).lower()} {in_english(partial(share_words, changed[name]))}"
        for name in changed
    )
    record(
        actor=actor,
        verb="loss.rules_set",
        sentence=f"set when a rekey is due at {site}: {words}",
        site_id=site.pk,
        subjects=[site],
        detail={"before": {name: now[name] for name in changed}, "after": changed},
    )
    return site


def shares_at(site: Site) -> dict[str, int]:
    """The shares in force, by door class."""
    shares = Shares()
    return {name: shares.due_at(site.pk, name) for name in Door.DoorClass.values}


def _refuse(shares: Mapping[str, int]) -> None:
    if unknown := set(shares) - set(Door.DoorClass.values):
        raise Refused(
            _("There is no door class “{unknown}”. Choose one of the list.").format(unknown=min(unknown))
        )
    if any(not 0 <= share <= MOST for share in shares.values()):
        raise Refused(_("Say a share between 0 and 100 percent; 0 means that one lost copy suffices."))
