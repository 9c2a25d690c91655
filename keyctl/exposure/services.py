"""Having a site assessed, and looking closer at one core: which keys nearly turn it, and by how much."""

from dataclasses import dataclass
from uuid import UUID

from django.db import transaction
from django.urls import reverse
from django.utils.translation import gettext

from keyctl import engine
from keyctl.accounts.fresh import FreshSignIn
from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.cores.turning import KeyFamily, pins_of
from keyctl.engine import exposure
from keyctl.exposure.access import MAY_LOOK_CLOSER, overseen_core
from keyctl.exposure.assessing import KIND
from keyctl.jobs.models import Job
from keyctl.jobs.services import start_job
from keyctl.lib.errors import Conflict, Refused
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.reveals.services import reveal_one
from keyctl.reveals.things import Secret
from keyctl.systems.access import visible_symbols
from keyctl.systems.models import KeySymbol
from keyctl.systems.services import bitting_of

# Its kind at the gate.
NEAR = "near-keys"
# A pair of cuts worn at once is the most that one depth in a key tells of wear.
WORN_POSITIONS = 2


@dataclass(frozen=True)
class NearKey:
    """A key that all but clears a line of a core; without a symbol where it belongs to others."""

    symbol: KeySymbol | None
    line: str
    differences: tuple[tuple[int, int], ...]

    @property
    def by_wear(self) -> bool:
        return all(deeper > 0 for _, deeper in self.differences)

    @property
    def changes(self) -> list[str]:
        """What would have to be other about its cuts, position by position."""
        return [
            f"position {position}: {abs(deeper)} {'deeper' if deeper > 0 else 'shallower'}"
            for position, deeper in self.differences
        ]

    @property
    def withdraws(self) -> bool:
        return self.line == exposure.CONTROL_LINE


@transaction.atomic
def assess(*, actor: User, site: Site) -> Job:
    """Start the job that works a site's figures out anew."""
    require_role(actor, site, *MAY_LOOK_CLOSER)
    if not Core.objects.filter(site=site, pinning__isnull=False).exists():
        raise Refused(
            gettext("No core at {site} is pinned yet; there is nothing to assess.").format(site=site)
        )
    if Job.objects.filter(kind=KIND, site=site).unfinished().exists():
        raise Conflict(
            gettext("The cores at {site} are being assessed already; wait for that to end.").format(site=site)
        )
    back = reverse("exposure:site", kwargs={"pk": site.pk})
    return start_job(actor=actor, kind=KIND, site=site, parameters={}, subjects=[site], back_url=back)


def look_closer(*, actor: User, core: Core, sign_in: FreshSignIn) -> list[NearKey]:
    """The keys that nearly turn or withdraw one core. History knows of it before the vault opens."""
    return reveal_one(actor=actor, sign_in=sign_in, wanted=lambda: near_keys_to_show(actor, core))


def near_keys_to_show(actor: User, core: Core) -> Secret[list[NearKey]]:
    """How keys nobody asked about are cut, masters among them: a second person, whatever the work."""
    if not core.is_pinned or core.system is None:
        raise Refused(
            gettext("Core {core} is not pinned yet; no key is near to turning it.").format(core=core)
        )
    family = KeyFamily.of(core.system)
    return Secret(
        kind=NEAR,
        thing=core,
        words=f"the keys that nearly turn core {core}",
        sites=(core.site,),
        open=lambda: _near_keys(actor, core, family),
        verb="core.near_keys_shown",
        url=reverse("exposure:core", args=[core.pk]),
        roles=MAY_LOOK_CLOSER,
        is_high=True,
    )


def find_near_keys(actor: User, pk: UUID) -> Secret[list[NearKey]]:
    core = overseen_core(actor, pk)
    require_role(actor, core.site, *MAY_LOOK_CLOSER)
    return near_keys_to_show(actor, core)


def _near_keys(actor: User, core: Core, family: KeyFamily) -> list[NearKey]:
    symbols = {symbol.pk: symbol for symbol in family.symbols().select_related("system")}
    shown = set(visible_symbols(actor).filter(pk__in=family.symbols()).values_list("pk", flat=True))
    near = exposure.NearKeys(
        {pk: engine.read_key(family.format_id, bitting_of(symbol)) for pk, symbol in symbols.items()}
    )
    pinned = pins_of(core)
    found = [
        NearKey(symbols[pk] if pk in shown else None, line, differences)
        for line in exposure.lines_of(pinned.format)
        for pk, differences in near.near(pinned, line, worn=WORN_POSITIONS)
    ]
    return sorted(found, key=lambda key: len(key.differences))
