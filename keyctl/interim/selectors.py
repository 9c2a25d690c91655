from django.db.models import QuerySet

from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.interim.access import reading_sites
from keyctl.interim.models import Interim


def standing_interims(actor: User) -> QuerySet[Interim]:
    """The first to leave first."""
    return Interim.objects.at_sites(reading_sites(actor)).standing().with_names()


def interim_of(core: Core) -> Interim | None:
    return Interim.objects.filter(core=core).standing().with_names().first()
