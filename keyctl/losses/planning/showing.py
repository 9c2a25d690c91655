"""Plans as the page shows them, and how far the work of the chosen one is. Nothing here opens the vault."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Count, Q, QuerySet

from keyctl.accounts.models import User
from keyctl.cores.models import Core, Turn
from keyctl.jobs.models import Job
from keyctl.keys.models import KeyCopy
from keyctl.lib.language import Text
from keyctl.lib.money import money_words
from keyctl.lib.numbers import as_number
from keyctl.losses.calling import callable_holders
from keyctl.losses.lost import LostKeys
from keyctl.losses.models import LossCase, RekeyPlan, WorkRates
from keyctl.losses.planning.costing import rates_of
from keyctl.losses.planning.plans import CARRY, PLAN
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.models import Site
from keyctl.stock.models import PinRole

Kind, State = WorkOrder.Kind, OrderLine.State


@dataclass(frozen=True)
class PlanShown:
    """One column of the table."""

    plan: RekeyPlan
    # Those of its holders whom the reader may know: of one's own sites.
    holders: frozenset[str] = frozenset()

    @property
    def figures(self) -> dict[str, Any]:
        found: dict[str, Any] = self.plan.figures
        named = found.get("shown_holders", ())
        return found | {"shown_holders": [row for row in named if row["pk"] in self.holders]}

    @property
    def is_possible(self) -> bool:
        return bool(self.figures.get("possible"))

    @property
    def way(self) -> str:
        return self.plan.label.partition(": ")[0]

    @property
    def scope(self) -> str:
        return self.plan.label.partition(": ")[2]

    @property
    def money(self) -> str:
        return money_words(self.figures["money"], self.figures["currency"])

    @property
    def hours(self) -> str:
        return as_number(round(Decimal(self.figures["minutes"]) / 60, 1))

    @property
    def pins(self) -> list[tuple[Text, int]]:
        found = self.figures["pins_by_role"]
        return [(role.label, found[role.value]) for role in PinRole if found.get(role.value)]


def shown_plans(actor: User, case: LossCase) -> list[PlanShown]:
    """The way to go where there is one comes first; those that cannot be carried out come last."""
    plans = list(case.plans.select_related("chosen_by", "made_by").defer("secret"))
    named = {row["pk"] for plan in plans for row in plan.figures.get("shown_holders", ())}
    known = callable_holders(actor).filter(pk__in=named).values_list("pk", flat=True)
    holders = frozenset(map(str, known))
    shown = [PlanShown(plan, holders) for plan in plans]
    return sorted(shown, key=lambda each: (not each.is_possible, each.plan.ordinal))


def is_stale(case: LossCase, plans: list[PlanShown]) -> bool:
    """Whether the doors were looked at again since the plans were made."""
    return any(each.plan.look != case.look for each in plans)


def running_plans(case: LossCase) -> Job | None:
    return Job.objects.unfinished().about(case).filter(kind__in=[PLAN, CARRY]).first()


def rates_shown(case: LossCase) -> WorkRates:
    return rates_of(case.site)


@dataclass(frozen=True)
class Progress:
    """Of the chosen plan: cores and keys, done and open, and what is still about of the old."""

    pinned: int
    to_pin: int
    swapped: int
    to_swap: int
    cut: int
    to_cut: int
    held: int
    in_cabinets: int
    destroyed: int
    loose: int

    @property
    def is_done(self) -> bool:
        return not (self.to_pin or self.to_swap or self.to_cut)


def progress_of(case: LossCase) -> Progress:
    lines = OrderLine.objects.filter(order__case_order__case=case)
    counts = {
        f"{name}_{state}": Count("pk", filter=Q(order__kind=kind, state=state))
        for name, kind in (("pin", Kind.PIN), ("swap", Kind.SWAP), ("cut", Kind.CUT))
        for state in (State.DONE, State.OPEN)
    }
    found = lines.aggregate(**counts)
    old = _old_copies(case)
    return Progress(
        pinned=found["pin_done"],
        to_pin=found["pin_open"],
        swapped=found["swap_done"],
        to_swap=found["swap_open"],
        cut=found["cut_done"],
        to_cut=found["cut_open"],
        held=old.get(KeyCopy.State.HELD, 0),
        in_cabinets=old.get(KeyCopy.State.IN_CABINET, 0),
        destroyed=old.get(KeyCopy.State.DESTROYED, 0),
        loose=loose_cores(case).count(),
    )


def old_copies(case: LossCase) -> QuerySet[KeyCopy]:
    """Copies of keys that the chosen plan retired, of those that work of this case took out of use."""
    systems = LostKeys.of(case).symbols.values()
    retired = Q(symbol__retired_at__isnull=False, symbol__system__in={key.system_id for key in systems})
    return KeyCopy.objects.filter(retired).exclude(state=KeyCopy.State.LOST)


def _old_copies(case: LossCase) -> dict[str, int]:
    rows = old_copies(case).order_by().values_list("state").annotate(number=Count("pk"))
    return dict(rows)


def loose_cores(case: LossCase) -> QuerySet[Core]:
    """Cores in hand that the lost keys turn or take out: what came out of the doors, and spare ones."""
    turned = Turn.objects.filter(symbol__in=LostKeys.of(case).symbols)
    return Core.objects.filter(
        pk__in=turned.values("core"), place__in=[Core.Place.BENCH, Core.Place.SHELF, Core.Place.CASE]
    ).order_by("tag")


def loose_at(actor: User, case: LossCase, sites: QuerySet[Site]) -> list[Core]:
    """Those that one may empty: undisputed, not in another's case, and not waiting in an order or for a door
    that is kept shut."""
    lines = OrderLine.objects.filter(state=State.OPEN)
    going_back = lines.filter(shut_at__isnull=False, lifted_at__isnull=True, core_out__isnull=False)
    found = loose_cores(case).filter(site__in=sites, disputed_at__isnull=True)
    found = found.exclude(pk__in=lines.filter(core__isnull=False).values("core"))
    found = found.exclude(pk__in=going_back.values("core_out"))
    return [core for core in found if core.carrier_id in {None, actor.pk}]
