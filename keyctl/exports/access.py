"""Who reads the register of tables."""

from django.db.models import QuerySet

from keyctl.accounts.models import User
from keyctl.exports.models import TakenTable
from keyctl.places.access import require_some
from keyctl.places.models import Site
from keyctl.places.roles import Role

REGISTER_READERS = (Role.OFFICER, Role.AUDITOR)


def readable_tables(actor: User) -> QuerySet[TakenTable]:
    """Those that hold something of a site of theirs; 403 for whoever reads the register at none."""
    sites = require_some(Site.objects.for_roles(actor, *REGISTER_READERS))
    mine = TakenTable.sites.through.objects.filter(site__in=sites)
    found = TakenTable.objects.filter(pk__in=mine.values("takentable"))
    return found.select_related("actor", "job").prefetch_related("sites")
