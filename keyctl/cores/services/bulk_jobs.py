"""The long work with cores: a core for each key that has none, and pins for the cores that wait."""

from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Model, QuerySet
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from keyctl.accounts.models import User
from keyctl.cores.services.bulk import BATCH, Pinned, Pinner, register_cores
from keyctl.cores.services.register import refuse_system
from keyctl.cores.waiting import keys_without_core, waiting_cores
from keyctl.jobs.kinds import register_kind
from keyctl.jobs.models import Job
from keyctl.jobs.running import Running
from keyctl.jobs.services import start_job
from keyctl.lib.errors import Refused
from keyctl.lib.numbers import as_number
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol, KeySystem

REGISTER = "cores.register-and-pin"
PIN = "cores.pin"
MOST_NAMED = 50

Things = tuple[KeySystem, *tuple[Model, ...]]


def register_kinds() -> None:
    register_kind(REGISTER, gettext_lazy("Register and pin cores"), register_and_pin)
    register_kind(PIN, gettext_lazy("Pin cores"), pin_waiting)


def start_registering(
    *, actor: User, site: Site, system: KeySystem, count: int, below: KeySymbol | None = None
) -> Job:
    """A core each for so many change keys of a system, or of one master, that have none yet."""
    require_role(actor, site, Role.LOCKSMITH)
    refuse_system(site, system)
    room = keys_without_core(system, below).count()
    if not room:
        raise Refused(_("Every change key {under} has a core already.").format(under=_under(system, below)))
    if not 1 <= count <= room:
        raise Refused(
            _("{room} change keys {under} have no core yet; ask for 1 to {room}.").format(
                room=room, under=_under(system, below)
            )
        )
    parameters = {"system": str(system.pk), "below": str(below.pk) if below else None, "count": count}
    return _start(actor, REGISTER, site, parameters, (system, below) if below else (system,))


def start_pinning(*, actor: User, site: Site, system: KeySystem) -> Job:
    """Pins for every core of a system that is in hand at a site and has none."""
    require_role(actor, site, Role.LOCKSMITH)
    refuse_system(site, system)
    waiting = [str(pk) for pk in waiting_cores(system, _only(site)).values_list("pk", flat=True)]
    if not waiting:
        raise Refused(
            _("No core of {code} in hand at {site} waits for pins.").format(code=system.code, site=site)
        )
    return _start(actor, PIN, site, {"system": str(system.pk), "cores": waiting}, (system,))


def register_and_pin(running: Running) -> dict[str, Any]:
    """Batch by batch: choose keys, register their cores, pin them, and keep how many are through."""
    parameters, actor, site = running.parameters, running.actor, running.job.site
    system = KeySystem.objects.get(pk=parameters["system"])
    below = KeySymbol.objects.filter(pk=parameters["below"]).first()
    pinner, total = Pinner(actor, system), parameters["count"]
    tally = _Tally(running)
    while tally.done < total:
        running.step(tally.done, total, _("Registering and pinning cores"))
        with transaction.atomic():
            # Held before they are chosen: else two jobs at once give the same keys a core each.
            pinner.family.hold()
            keys = list(keys_without_core(system, below)[: min(BATCH, total - tally.done)])
            if not keys:
                break
            cores = register_cores(actor=actor, site=site, system=system, keyings=[[key] for key in keys])
            tally.keep(len(keys), pinner.pin([core.pk for core in cores]))
    running.step(tally.done, total, _("Registered and pinned"))
    return tally.outcome(_("Registered and pinned {pinned} cores of {code}."), system)


def pin_waiting(running: Running) -> dict[str, Any]:
    """The cores that waited when the job was started; those taken away meanwhile are passed over."""
    system = KeySystem.objects.get(pk=running.parameters["system"])
    pinner, cores = Pinner(running.actor, system), running.parameters["cores"]
    tally = _Tally(running)
    while batch := cores[tally.done : tally.done + BATCH]:
        running.step(tally.done, len(cores), _("Pinning cores"))
        with transaction.atomic():
            require_role(running.actor, running.job.site, Role.LOCKSMITH)
            here = waiting_cores(system, _only(running.job.site)).filter(pk__in=batch)
            tally.keep(len(batch), pinner.pin(list(here.values_list("pk", flat=True))))
    running.step(tally.done, len(cores), _("Pinned"))
    return tally.outcome(_("Pinned {pinned} cores of {code}."), system)


class _Tally:
    """How many are through, over all runs of the job."""

    def __init__(self, running: Running) -> None:
        self._running = running
        self.done: int = running.checkpoint.get("done", 0)
        self._pinned: int = running.checkpoint.get("pinned", 0)
        self._refused: list[str] = running.checkpoint.get("refused", [])

    def keep(self, through: int, found: Pinned) -> None:
        """Inside the batch's own transaction, so that no batch counts twice."""
        self.done += through
        self._pinned += len(found.cores)
        self._refused += [str(core) for core in found.refused]
        self._running.save({"done": self.done, "pinned": self._pinned, "refused": self._refused})

    def outcome(self, words: str, system: KeySystem) -> dict[str, Any]:
        sentence = words.format(pinned=as_number(self._pinned), code=system.code)
        if self._refused:
            sentence += f" {self._not_pinned()}"
        facts = {
            _("Cores through"): self.done,
            _("Pinned"): self._pinned,
            _("Not pinned"): len(self._refused),
        }
        return {"sentence": sentence, "url": _page(system.pk), "facts": facts}

    def _not_pinned(self) -> str:
        named = ", ".join(self._refused[:MOST_NAMED])
        if len(self._refused) > MOST_NAMED:
            named = _("{named} and others").format(named=named)
        return ngettext(
            "{count} could not be pinned, since their keys cannot share one core: {named}. "
            "Try one of them at its page to read why.",
            "{count} could not be pinned, since their keys cannot share one core: {named}. "
            "Try one of them at its page to read why.",
            len(self._refused),
        ).format(count=len(self._refused), named=named)


def _start(actor: User, kind: str, site: Site, parameters: dict[str, Any], things: Things) -> Job:
    """A system first of all; its page is where the work was started."""
    return start_job(
        actor=actor,
        kind=kind,
        site=site,
        parameters=parameters,
        subjects=things,
        back_url=reverse("cores:bulk", args=[things[0].pk]),
        about=things[0].code,
    )


def _only(site: Site) -> QuerySet[Site]:
    return Site.objects.filter(pk=site.pk)


def _page(system: UUID) -> str:
    return reverse("systems:detail", args=[system])


def _under(system: KeySystem, below: KeySymbol | None) -> str:
    return _("below {below}").format(below=below) if below else _("of {code}").format(code=system.code)
