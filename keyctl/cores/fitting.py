"""Whether a core may go into a housing: asked before it is put there, or imagined to be there."""

from django.utils.translation import gettext as _

from keyctl.cores.models import Core
from keyctl.lib.errors import Refused
from keyctl.places.models import Housing


def refuse_unfit(housing: Housing, incoming: Core) -> None:
    if not incoming.is_pinned:
        raise Refused(
            _("Core {incoming} is not pinned yet; pin it at the bench before it goes into a door.").format(
                incoming=incoming
            )
        )
    if incoming.place == Core.Place.GONE:
        raise Refused(
            _("Core {incoming} is written off as gone; register the core you hold as a new one.").format(
                incoming=incoming
            )
        )
    if incoming.construction != housing.construction:
        raise Refused(
            _(
                "Core {incoming} is of the construction '{construction}' and {housing} takes "
                "'{construction_2}'; choose a core that fits."
            ).format(
                incoming=incoming,
                construction=incoming.construction,
                housing=housing,
                construction_2=housing.construction,
            )
        )
    if incoming.site_id != housing.door.site.pk:
        raise Refused(
            _("Core {incoming} belongs to {site}; move it to this site first.").format(
                incoming=incoming, site=incoming.site
            )
        )
