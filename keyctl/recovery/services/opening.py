from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.lib.errors import Conflict, Refused
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.recovery.access import WORKERS
from keyctl.recovery.models import ControlKeyCase
from keyctl.recovery.selectors import way_of
from keyctl.recovery.services.locking import tell
from keyctl.recovery.services.wording import clean_words
from keyctl.systems.models import KeySystem


@transaction.atomic
def open_case(*, actor: User, site: Site, system: KeySystem, note: str, officer_told: bool) -> ControlKeyCase:
    """A control key is lost. The security officer hears of it before anybody works on a new one."""
    require_role(actor, site, *WORKERS)
    # Everybody who opens a case at the site waits here, so that the second one sees the first one's.
    Site.objects.select_for_update().get(pk=site.pk)
    _refuse(site, system, officer_told)
    note = clean_words(
        note, system.format_id, missing=_("Say what happened: when it was last seen, and where.")
    )
    case = ControlKeyCase(site=site, system=system, way=way_of(system), note=note, opened_by=actor)
    case.save(force_insert=True)
    tell(
        actor,
        case,
        "lost",
        f"opened a case for the lost control key of {system.code}; the security officer was told",
        way=case.way,
        note=note,
    )
    return case


def _refuse(site: Site, system: KeySystem, officer_told: bool) -> None:
    if not system.sites.filter(pk=site.pk).exists():
        raise Refused(
            _("{system} is not used at {site}. Choose a system that is.").format(system=system, site=site)
        )
    if not officer_told:
        raise Refused(_("Tell the security officer first: whoever has this key can take cores out."))
    rows = ControlKeyCase.objects.select_related("opened_by")
    if other := rows.filter(site=site, system=system, state=ControlKeyCase.State.OPEN).first():
        raise Conflict(
            _("{opened_by} has a case open for {system} at {site}. Go on with that one.").format(
                opened_by=other.opened_by, system=system, site=site
            )
        )
