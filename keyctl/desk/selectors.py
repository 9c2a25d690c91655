"""Reading the counter: what lies on it, who it is for, what is ready to collect, what is proposed."""

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Count, Min, Prefetch, Q, QuerySet
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.approvals.models import Grant, KeyRequest
from keyctl.desk.addressing import address_of
from keyctl.desk.models import DuePause, DueReminders, DueRules, Tray, TrayLine
from keyctl.desk.remarks import LineView, views_of
from keyctl.keys.models import Cabinet, Custody, Deposit, DeskSettings, Handover, Holder
from keyctl.keys.selectors import open_custodies
from keyctl.leavers.models import LeaverCase
from keyctl.places.models import Site

Way = Handover.Way
KEYS_SHOWN = 5


@dataclass(frozen=True)
class Counter:
    """Everything a desk page shows of one way of working."""

    tray: Tray
    lines: list[LineView]
    settings: DeskSettings
    ready: list[KeyRequest]
    held: list[Custody]
    held_count: int
    deposits: list[Deposit]

    @property
    def is_blocked(self) -> bool:
        return any(line.is_blocked for line in self.lines)

    @property
    def proposed_deposit(self) -> int:
        """For keys that are handed out now; what a request collects is with the same hand."""
        return sum(self.settings.deposit_for(line.copy.symbol) for line in self.lines)

    @property
    def deposit(self) -> int:
        return self.proposed_deposit if self.tray.deposit is None else self.tray.deposit


def tray_of(actor: User, site: Site, way: Way) -> Tray:
    """The clerk's tray as it is, or an empty one that is not kept: looking writes nothing."""
    trays = Tray.objects.select_related("holder__person", "holder__site", "person", "cabinet", "site")
    found = trays.filter(site=site, clerk=actor, way=way).first()
    return found or Tray(site=site, clerk=actor, way=way)


def counter_of(tray: Tray) -> Counter:
    lines = list(lines_of(tray)) if not tray._state.adding else []
    settings = DeskSettings.objects.select_related("terms").filter(site=tray.site).first()
    held = open_custodies(tray.holder) if tray.holder else Custody.objects.none()
    return Counter(
        tray=tray,
        lines=views_of(tray, lines),
        settings=settings or DeskSettings(site=tray.site),
        ready=ready_for(tray.holder) if tray.holder and tray.way == Way.OUT else [],
        held=list(held[:KEYS_SHOWN]),
        held_count=held.count(),
        deposits=deposits_over(lines) if tray.way == Way.BACK else [],
    )


def lines_of(tray: Tray) -> QuerySet[TrayLine]:
    return tray.lines.select_related(
        "copy__symbol__system",
        "copy__holder",
        "copy__cabinet",
        "copy__site",
        "request__requester",
        "request__holder",
    )


def ready_for(holder: Holder) -> list[KeyRequest]:
    """The requests whose keys lie ready for somebody, each with what is set aside."""
    grants = Grant.objects.filter(reserved_copy__isnull=False).select_related(
        "reserved_copy__cabinet", "symbol"
    )
    requests = KeyRequest.objects.filter(holder=holder, state=KeyRequest.State.READY)
    requests = requests.filter(grants__reserved_copy__isnull=False).distinct()
    requests = requests.select_related("building", "requester").order_by("ready_at")
    return list(requests.prefetch_related(Prefetch("grants", grants, to_attr="ready_grants")))


def deposits_over(lines: list[TrayLine]) -> list[Deposit]:
    """Deposits that can be given back once these keys are: nothing else of their acts is still out."""
    copies = [line.copy_id for line in lines]
    acts = Custody.objects.filter(copy__in=copies, ended_at__isnull=True).values("out_act")
    still_out = Custody.objects.filter(out_act__in=acts, ended_at__isnull=True).exclude(copy__in=copies)
    deposits = Deposit.objects.filter(handover__in=acts, state=Deposit.State.TAKEN)
    deposits = deposits.exclude(handover__in=still_out.values("out_act"))
    return list(deposits.select_related("handover__holder"))


def cabinets_of(site: Site) -> QuerySet[Cabinet]:
    return Cabinet.objects.filter(site=site)


@dataclass(frozen=True)
class OverdueHolder:
    """Somebody with overdue keys: how many, since when, what was mailed, and whether reminders rest."""

    holder: Holder
    keys: int
    since: datetime
    reminders: DueReminders | None
    pause: DuePause | None
    is_leaving: bool
    has_address: bool


def due_rules(site: Site) -> DueRules:
    return DueRules.objects.filter(site=site).first() or DueRules(site=site)


def overdue_holders(site: Site) -> list[OverdueHolder]:
    """The longest overdue first."""
    overdue = Q(custodies__ended_at__isnull=True, custodies__due_at__lt=timezone.now())
    holders = Holder.objects.filter(site=site).filter(overdue).distinct().select_related("user", "person")
    counted = holders.annotate(
        keys=Count("custodies", filter=overdue), since=Min("custodies__due_at", filter=overdue)
    )
    reminders = {row.holder_id: row for row in DueReminders.objects.filter(holder__site=site)}
    today = timezone.localdate()
    pauses = DuePause.objects.filter(holder__site=site, ended_at__isnull=True, until__gte=today)
    paused = {pause.holder_id: pause for pause in pauses.select_related("made_by")}
    leaving = set(
        LeaverCase.objects.filter(holder__site=site, state=LeaverCase.State.OPEN).values_list(
            "holder", flat=True
        )
    )
    return [
        OverdueHolder(
            holder,
            holder.keys,
            holder.since,
            reminders.get(holder.pk),
            paused.get(holder.pk),
            holder.pk in leaving,
            bool(address_of(holder)),
        )
        for holder in counted.order_by("since")
    ]
