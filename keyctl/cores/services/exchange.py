from uuid import UUID

from django.db import models, transaction
from django.db.models import Q
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.cores.disputes import refuse_disputed, refuse_disputed_housing
from keyctl.cores.fitting import refuse_unfit
from keyctl.cores.leaving import refuse_to_leave
from keyctl.cores.models import Core
from keyctl.cores.services.locking import refuse_stale
from keyctl.cores.services.placing import install_core, put_core
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.holding import hold_one
from keyctl.lib.language import in_english
from keyctl.lib.prepared import Prepared, Slot
from keyctl.places.access import require_role
from keyctl.places.models import Housing
from keyctl.places.roles import Role

OUTSIDE = (Core.Place.SHELF, Core.Place.BENCH, Core.Place.CASE)
_BOTH = Prepared(
    lambda: (
        Core.objects.select_for_update()
        .filter(Q(pk=Slot("core")) | Q(housing=Slot("housing")))
        .order_by("pk")
    )
)


@transaction.atomic
def exchange_core(
    *,
    actor: User,
    housing: Housing,
    core_in: Core,
    core_in_version: int,
    core_out_id: UUID | None,
    put_at: str,
    order: models.Model | None = None,
    core_out_version: int | None = None,
) -> Core | None:
    """Put one core into a housing and take out what was there; returns what came out.

    ``core_in_version`` and ``core_out_id`` are what the person saw when the act began: if another swap
    came in between, nothing is changed and the message says so. ``core_out_version`` is asked where it is
    given: a tablet without a network knows what it saw of that core last.
    """
    require_role(actor, housing.door.site, Role.LOCKSMITH)
    incoming, outgoing = _lock(housing, core_in)
    refuse_disputed(incoming, outgoing)
    refuse_disputed_housing(housing)
    _refuse_changed(housing, incoming, core_in_version, outgoing, core_out_id)
    if outgoing is not None and core_out_version is not None:
        refuse_stale(outgoing, core_out_version)
    refuse_unfit(housing, incoming)
    _refuse_nowhere(put_at)
    refuse_to_leave(incoming, Core.Place.HOUSING)
    if outgoing is not None:
        put_core(outgoing, put_at, carrier=actor)
    install_core(incoming, housing)
    record(
        actor=actor,
        verb="core.swapped",
        sentence=_sentence(housing, incoming, outgoing),
        site_id=housing.door.site.pk,
        subjects=[thing for thing in (housing.door, incoming, outgoing, order) if thing is not None],
        # Which of them went where: the sentence says it to people, this to whoever draws it.
        detail={
            "housing": str(housing.pk),
            "core_in": str(incoming.pk),
            "put_at": put_at if outgoing else "",
        },
    )
    return outgoing


def _lock(housing: Housing, core_in: Core) -> tuple[Core, Core | None]:
    """The housing first, then the cores in one fixed order: two swaps queue, never in a ring."""
    hold_one(housing)
    by_pk = {core.pk: core for core in _BOTH.rows(core=core_in.pk, housing=housing.pk)}
    incoming = by_pk.pop(core_in.pk)
    return incoming, next(iter(by_pk.values()), None)


def _refuse_changed(
    housing: Housing, incoming: Core, version: int, outgoing: Core | None, core_out_id: UUID | None
) -> None:
    if incoming.place == Core.Place.HOUSING:
        raise Conflict(
            _("Core {incoming} is already {whereabouts}. Nothing was changed.").format(
                incoming=incoming, whereabouts=incoming.whereabouts
            )
        )
    refuse_stale(incoming, version)
    if (outgoing.pk if outgoing else None) != core_out_id:
        found = f"core {outgoing}" if outgoing else "no core"
        raise Conflict(
            _(
                "{housing} now holds {found}: somebody swapped it since you began. Nothing was changed; look "
                "again."
            ).format(housing=housing, found=found)
        )


def _refuse_nowhere(put_at: str) -> None:
    if put_at not in OUTSIDE:
        raise Refused(_("Say where the core that came out goes: shelf, bench or your case."))


def _sentence(housing: Housing, incoming: Core, outgoing: Core | None) -> str:
    if outgoing is None:
        return f"put core {incoming} into {in_english(housing)}"
    return f"swapped core {outgoing} for {incoming} in {in_english(housing)}"
