"""A key that somebody found, or fears, as its cuts: which cores of a site it turns, planned or not."""

from collections.abc import Iterator
from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext as _

from keyctl import engine
from keyctl.accounts.fresh import FreshSignIn
from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.cores.turning import KeyFamily, pins_of
from keyctl.exposure.access import MAY_LOOK_CLOSER
from keyctl.lib.errors import Refused
from keyctl.lib.numbers import as_number
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.reveals.services import reveal_one
from keyctl.reveals.things import Secret
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.services import bitting_of

# More are tried by a job that assesses the site, not while somebody waits.
MOST_CORES = 20_000


@dataclass(frozen=True)
class Taken:
    core: Core
    operates: bool
    withdraws: bool


@dataclass(frozen=True)
class Found:
    """The cores that do something, and the keys of the system that have just these cuts."""

    taken: list[Taken]
    tried: int
    symbols: list[KeySymbol]

    @property
    def is_incidental(self) -> bool:
        return bool(self.taken) and not self.symbols


def try_cuts(
    *, actor: User, site: Site, system: KeySystem, sign_in: FreshSignIn, cuts: str, reason: str
) -> Found:
    """Try cuts on a blank of the system's keyway in every pinned core of the site that it enters.

    History knows of it before the vault opens, without the cuts. It counts like a look: who asks often
    enough finds out what is pinned.
    """
    require_role(actor, site, *MAY_LOOK_CLOSER)
    bitting = engine.read_key(system.format_id, cuts)
    cores = [core for family in KeyFamily.entered_by(system) for core in _cores(family, site)]
    if len(cores) > MOST_CORES:
        raise Refused(
            _("{site} has more than {most_cores} cores that this key enters; try it at the bench.").format(
                site=site, most_cores=as_number(MOST_CORES)
            )
        )
    if not reason.strip():
        raise Refused(_("Say why you need to know which cores these cuts turn."))
    question = Secret(
        kind="cuts",
        thing=site,
        words=f"which of {len(cores)} cores at {site} a key of {system.code} turns",
        sites=(site,),
        open=lambda: _found(system, cores, bitting),
        verb="exposure.cuts_tried",
        url=reverse("exposure:cuts", args=[site.pk]),
        roles=MAY_LOOK_CLOSER,
        is_question=True,
        sentence=f"asked which of {len(cores)} cores at {site} a key of {system.code} turns: {reason}",
        about=(system,),
    )
    return reveal_one(actor=actor, sign_in=sign_in, wanted=lambda: question)


def _found(system: KeySystem, cores: list[Core], bitting: engine.Bitting) -> Found:
    same = [symbol for symbol in system.symbols.all() if bitting_of(symbol) == bitting.text]
    return Found(list(_taken(cores, bitting)), len(cores), same)


def _cores(family: KeyFamily, site: Site) -> Iterator[Core]:
    cores = family.pinned().filter(site=site).exclude(place=Core.Place.GONE)
    places = ("system", "housing__door__floor__building__site", "carrier")
    yield from cores.select_related(*places).order_by("tag")[: MOST_CORES + 1]


def _taken(cores: list[Core], bitting: engine.Bitting) -> Iterator[Taken]:
    for core in cores:
        turning = engine.try_key(pins_of(core), bitting)
        if turning.operates or turning.withdraws:
            yield Taken(core, turning.operates, turning.withdraws)
