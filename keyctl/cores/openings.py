"""What turns which core in which door, as it is, and as it would be if one core were put somewhere else."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db import models
from django.db.models import Q, QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.cores.disputes import refuse_disputed, refuse_disputed_housing
from keyctl.cores.fitting import refuse_unfit
from keyctl.cores.models import Core, Turn
from keyctl.cores.selectors import TURN_WITH_NAMES, Opener, openers_by
from keyctl.lib.errors import Refused
from keyctl.places.access import visible_sites
from keyctl.places.models import Door, Housing
from keyctl.systems.models import KeySymbol


class Change(models.TextChoices):
    """What an imagined act does to what opens a door."""

    NONE = "none", gettext_lazy("As it is now")
    GAINED = "gained", gettext_lazy("Would open it, and does not now")
    LOST = "lost", gettext_lazy("Opens it now, and would not")


@dataclass(frozen=True)
class Exchange:
    """A core put into a housing in mind: what is in it now comes out."""

    housing: Housing
    core: Core


@dataclass(frozen=True)
class Opening:
    """A key on a core in a door, and whether that comes or goes with the imagined act."""

    opener: Opener
    change: Change


def imagined(housing: Housing, core: Core) -> Exchange:
    """Refused in the words in which the act itself would be refused."""
    if core.place == Core.Place.HOUSING:
        raise Refused(
            _("Core {core} is {whereabouts}. Imagine one that is in no housing.").format(
                core=core, whereabouts=core.whereabouts
            )
        )
    refuse_disputed(core)
    refuse_disputed_housing(housing)
    refuse_unfit(housing, core)
    return Exchange(housing, core)


def turns_in_door(door: Door, exchange: Exchange | None = None) -> QuerySet[Turn]:
    """The keys on the cores of one door; the imagined core is in it."""
    return _turns(Q(core__housing__door=door), exchange)


def turns_of_key(actor: User, symbol: KeySymbol, exchange: Exchange | None = None) -> QuerySet[Turn]:
    """The cores that one key turns or takes out, in the doors that the actor may look at."""
    sites = visible_sites(actor)
    inside = Q(core__housing__door__floor__building__site__in=sites)
    return _turns(inside, exchange).filter(symbol=symbol)


def openings(turns: Sequence[Turn], exchange: Exchange | None = None) -> list[Opening]:
    """In the order of the turns, in a fixed number of queries."""
    openers = openers_by(turns, {exchange.core.pk: exchange.housing} if exchange else {})
    return [Opening(each, _change(each, exchange)) for each in openers]


def _turns(inside: Q, exchange: Exchange | None) -> QuerySet[Turn]:
    if exchange:
        inside |= Q(core=exchange.core)
    return Turn.objects.filter(inside).select_related(*TURN_WITH_NAMES)


def _change(opener: Opener, exchange: Exchange | None) -> Change:
    if exchange is None or opener.housing.pk != exchange.housing.pk:
        return Change.NONE
    return Change.GAINED if opener.core.pk == exchange.core.pk else Change.LOST
