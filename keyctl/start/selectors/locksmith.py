"""What a locksmith has before them besides the doors: the bench, disputes, cores for a time, waves, pins."""

from datetime import timedelta

from django.db.models import Count, F, OuterRef, Q, QuerySet, Subquery
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from keyctl.field.models import ReconcileCase
from keyctl.interim.models import Interim
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.roles import Role
from keyctl.rotations.models import Rotation, RotationDoor, Wave
from keyctl.start.blocks import SHOWN, Act, Block, Line, Mark, Morning, Tone, counted
from keyctl.start.selectors.doors import MOVING, open_lines, orders_in_hand
from keyctl.start.wording import day_words, due_mark, since_words
from keyctl.stock.families import Family, families
from keyctl.stock.models import PinBin, PinRole

Kind = WorkOrder.Kind
AT_BENCH = (Kind.PIN, Kind.DECODE, Kind.CUT, Kind.RECOVER)
OWED = (OrderLine.Trying.OWED, OrderLine.Trying.WRONG)
LEAVE_WITHIN = timedelta(days=14)


def bench(morning: Morning) -> Block:
    """Orders that are done at the bench, and cores that lie there pinned and wait to go out."""
    orders = orders_in_hand(morning, AT_BENCH)
    shown = list(orders[: SHOWN - 1])
    left = open_lines(order.pk for order in shown)
    owed = _untried([order for order in shown if order.kind == Kind.PIN])
    lines = [_bench_line(order, left[order.pk], owed.get(order.pk, 0), morning) for order in shown]
    waiting = counted(_pinned_and_waiting(morning))
    total = counted(orders)
    if waiting:
        lines.append(_waiting_line(waiting))
        total += 1
    return Block(
        question=_("What is on the bench?"),
        lines=lines,
        empty=_("Nothing waits at the bench."),
        total=total,
        more=Act(_("All work orders"), f"{reverse('orders:list')}?state=unfinished"),
    )


def _untried(orders: list[WorkOrder]) -> dict[object, int]:
    rows = OrderLine.objects.filter(order__in=orders, trying__in=OWED).order_by()
    return dict(rows.values_list("order").annotate(Count("pk")))


def _bench_line(order: WorkOrder, left: int, owed: int, morning: Morning) -> Line:
    said = [order.get_kind_display(), order.title, *_still(left, owed)]
    act = _("Go to the bench") if order.kind == Kind.PIN else _("Open the order")
    page = reverse("orders:bench" if order.kind == Kind.PIN else "orders:detail", args=[order.pk])
    return Line(
        what=str(order),
        url=reverse("orders:detail", args=[order.pk]),
        about=" · ".join(said),
        mark=due_mark(order.due_on, morning.today) if order.due_on else None,
        act=Act(act, page, str(order)),
    )


def _still(left: int, owed: int) -> list[str]:
    said = []
    if left:
        said.append(ngettext("{count} still to do", "{count} still to do", left).format(count=left))
    if owed:
        said.append(
            ngettext("{count} core to try", "{count} cores to try", owed).format(count=owed),
        )
    return said


def _pinned_and_waiting(morning: Morning) -> QuerySet[OrderLine]:
    """Pinned for a door of an order in hand, and not there yet."""
    pinned = Q(core__pinned_at__isnull=False) | Q(core=None, meant__pinned_at__isnull=False)
    return OrderLine.objects.filter(
        pinned,
        Q(order__assigned_to=morning.actor) | Q(order__assigned_to=None),
        order__site__in=morning.at(Role.LOCKSMITH),
        order__state__in=MOVING,
        order__kind=Kind.SWAP,
        state=OrderLine.State.OPEN,
    )


def _waiting_line(count: int) -> Line:
    words = ngettext("{count} pinned core waits to go out", "{count} pinned cores wait to go out", count)
    return Line(
        what=words.format(count=count),
        url=reverse("orders:route"),
        about=_("Chosen for their doors, and in none yet."),
        act=Act(_("Take them out"), reverse("orders:route"), _("pinned cores")),
    )


def disputed(morning: Morning) -> Block:
    """Oldest first: until it is settled, nobody works on these cores."""
    cases = ReconcileCase.objects.filter(
        site__in=morning.at(Role.LOCKSMITH), state=ReconcileCase.State.OPEN
    ).order_by("number")
    shown = cases.select_related("site").annotate(cores=Count("case_cores"))[:SHOWN]
    return Block(
        question=_("What contradicts the register?"),
        lines=[_disputed_line(case, morning) for case in shown],
        empty=_("Nothing is disputed."),
        total=counted(cases),
        more=Act(_("All contradictions"), reverse("field:cases")),
    )


def _disputed_line(case: ReconcileCase, morning: Morning) -> Line:
    page = reverse("field:case", args=[case.pk])
    cores = ngettext("{count} core", "{count} cores", case.cores).format(count=case.cores)  # type: ignore[attr-defined]
    return Line(
        what=str(case),
        url=page,
        about=_("{cores} at {site}, told {when}").format(
            cores=cores, site=case.site, when=since_words(case.opened_at, morning.now)
        ),
        mark=Mark(Tone.WARN, _("Disputed")),
        act=Act(_("Settle"), page, str(case)),
    )


def temporary_cores(morning: Morning) -> Block:
    """Those whose day has passed or comes within two weeks."""
    until = morning.today + LEAVE_WITHIN
    leaving = Interim.objects.filter(site__in=morning.at(Role.LOCKSMITH), until__lte=until).standing()
    first = list(leaving.order_by("until", "pk").values_list("pk", flat=True)[:SHOWN])
    shown = Interim.objects.filter(pk__in=first).with_names().defer("core__pinning").order_by("until", "pk")
    return Block(
        question=_("Which temporary cores must leave?"),
        lines=[_interim_line(each, morning) for each in shown],
        empty=_("No temporary core must leave within two weeks."),
        total=counted(leaving),
        more=Act(_("All temporary cores"), reverse("interim:list")),
    )


def _interim_line(interim: Interim, morning: Morning) -> Line:
    return Line(
        what=str(interim.housing),
        url=reverse("cores:door", args=[interim.housing.door_id]),
        about=_("Core {core}, by {day}: {why}").format(
            core=interim.core, day=day_words(interim.until), why=interim.why
        ),
        mark=due_mark(interim.until, morning.today),
        act=Act(_("Change its day"), reverse("interim:change", args=[interim.pk]), str(interim.core)),
    )


def waves(morning: Morning) -> Block:
    """Waves that have begun, with the doors that are left in each."""
    begun = Wave.objects.filter(
        rotation__site__in=morning.at(Role.LOCKSMITH),
        rotation__state=Rotation.State.WORKING,
        state=Wave.State.BEGUN,
    ).order_by("begun_at", "pk")
    left = RotationDoor.objects.filter(wave=OuterRef("pk"), state__in=RotationDoor.TO_DO).order_by()
    number = left.values("wave").annotate(number=Count("pk")).values("number")
    shown = begun.select_related("rotation__site").annotate(left=Subquery(number))[:SHOWN]
    return Block(
        question=_("Which waves are under way?"),
        lines=[_wave_line(wave) for wave in shown],
        empty=_("No wave is under way."),
        total=counted(begun),
        more=Act(_("All rotations"), reverse("rotations:list")),
    )


def _wave_line(wave: Wave) -> Line:
    left = wave.left or 0  # type: ignore[attr-defined]
    doors = ngettext("{count} door left", "{count} doors left", left).format(count=left)
    rotation = wave.rotation
    orders = wave.swap_order_id or wave.pin_order_id
    page = reverse("orders:detail", args=[orders]) if orders else ""
    return Line(
        what=_("{rotation}, wave {number}").format(rotation=rotation, number=wave.ordinal),
        url=reverse("rotations:detail", args=[rotation.pk]),
        about=_("{title} at {site} · {doors}").format(title=rotation.title, site=rotation.site, doors=doors),
        act=Act(_("Open its order"), page, str(rotation)) if page else None,
    )


def low_pins(morning: Morning) -> Block:
    """The emptiest first; and bins of which more was used than was there."""
    low = PinBin.objects.filter(site__in=morning.at(Role.LOCKSMITH)).filter(
        Q(count__lte=F("low_at")) | Q(is_doubtful=True)
    )
    shown = list(low.select_related("site").order_by("count", "site__code", "family", "role", "size")[:SHOWN])
    known = families() if shown else {}
    return Block(
        question=_("Which pins run low?"),
        lines=[_bin_line(each, known.get(each.family)) for each in shown],
        empty=_("No pins run low."),
        total=counted(low),
        more=Act(_("Pin stock"), reverse("stock:list")),
    )


def _bin_line(found: PinBin, family: Family | None) -> Line:
    size = family.size_name(found.role, found.size) if family else found.size
    name = _("{pins}, size {size}").format(pins=PinRole(found.role).label, size=size)
    left = ngettext("{count} left", "{count} left", found.count or 0).format(count=found.count or 0)
    if found.is_doubtful:
        mark, act = Mark(Tone.WARN, _("Count it")), _("Count")
        page = reverse("stock:bin", args=[found.pk])
    else:
        mark, act = Mark(Tone.WARN, _("Low")), _("What to buy")
        page = reverse("stock:reorder", args=[found.site_id])
    return Line(
        what=name,
        url=reverse("stock:bin", args=[found.pk]),
        about=_("{left} at {site}, low at {low}").format(left=left, site=found.site, low=found.low_at),
        mark=mark,
        act=Act(act, page, name),
    )
