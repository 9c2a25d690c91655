"""What the pages about work orders show."""

from dataclasses import dataclass

from django.db.models import Case, Count, F, IntegerField, Prefetch, Q, QuerySet, Value, When

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.lib.tags import clean_tag
from keyctl.orders.access import visible_orders
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.models import Door, Housing, Site
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.selectors import LINE, ancestors, control_of

SHOWN_AT_ONCE = 30

# Where a core is at hand.
FREE = (Core.Place.SHELF, Core.Place.BENCH, Core.Place.CASE)

OWING = (OrderLine.Trying.OWED, OrderLine.Trying.WRONG)
# A core that many keys are keyed to is not tried with all of them.
MOST_OWN_KEYS = 3

# Somebody may be working behind these.
LOCKING_OUT = frozenset({Housing.Kind.PADLOCK, Housing.Kind.SWITCH})

# How a core leaves a housing, by the control its format has.
WAYS_OUT = {"sleeve": "control-key", "tip": "control-key", "screw": "screw"}


@dataclass(frozen=True)
class Swap:
    """One line of a swap order as the guided page shows it."""

    line: OrderLine
    housing: Housing
    core_now: Core | None
    core_in: Core | None

    @property
    def door(self) -> Door:
        return self.housing.door

    @property
    def way_out(self) -> str:
        """``control-key``, ``screw`` or ``fixed``: which words the page uses for taking a core out."""
        core = self.core_in or self.core_now
        control = engine.load_format(core.format_id).control if core else None
        return WAYS_OUT[control.kind] if control else "fixed"

    @property
    def can_lock_out(self) -> bool:
        return self.housing.kind in LOCKING_OUT


def orders_by_state(actor: User, *, state: str = "", kind: str = "") -> QuerySet[WorkOrder]:
    """Open orders first, then the newest number first, with how many lines are done."""
    orders = visible_orders(actor)
    if state:
        orders = orders.filter(state=state)
    if kind:
        orders = orders.filter(kind=kind)
    return orders.annotate(
        line_count=Count("lines"),
        done_count=Count("lines", filter=Q(lines__state=OrderLine.State.DONE)),
        turn=Case(
            When(state__in=WorkOrder.UNFINISHED, then=Value(0)), default=Value(1), output_field=IntegerField()
        ),
    ).order_by("turn", "-number")


def lines_of(order: WorkOrder) -> QuerySet[OrderLine]:
    return (
        order.lines.select_related(
            "core__site",
            "core__carrier",
            "core__housing__door__floor__building",
            "core_out",
            "done_by",
            "meant",
        )
        .select_related("housing__door__floor__building__site", "symbol__system", "cabinet")
        .prefetch_related(
            "copies",
            "core__keyed_to",
            "meant__keyed_to",
            Prefetch("housing__cores", queryset=Core.objects.prefetch_related("keyed_to")),
        )
        .order_by("ordinal")
    )


def swap_of(line: OrderLine) -> Swap:
    if line.housing is None:
        raise ValueError("The line belongs to no swap.")
    goes_in = line.core_out if line.is_shut else line.core
    return Swap(line, line.housing, line.housing.cores.first(), goes_in)


def round_lines(order: WorkOrder) -> QuerySet[OrderLine]:
    """The open doors of a swap order in the order of their floors, with the core that goes in."""
    return (
        order.lines.filter(state=OrderLine.State.OPEN, housing__isnull=False)
        .select_related("core__carrier", "meant__carrier", "housing__door__floor__building__site")
        .prefetch_related("core__keyed_to", "meant__keyed_to", "housing__cores")
        .order_by("ordinal")
    )


def next_line(line: OrderLine) -> OrderLine | None:
    """The next door of the same order."""
    waiting = OrderLine.objects.filter(order_id=line.order_id, state=OrderLine.State.OPEN).exclude(pk=line.pk)
    return waiting.select_related("housing__door__floor__building__site").order_by("ordinal").first()


def cores_to_put_in(line: OrderLine, actor: User) -> QuerySet[Core]:
    """Pinned, free, of the right construction and set aside for no other line."""
    if line.housing is None:
        return Core.objects.none()
    return (
        _without_open_line(Core.objects.with_places(), besides=line)
        .filter(site_id=line.order.site_id, construction=line.housing.construction)
        .filter(pinning__isnull=False, place__in=FREE, disputed_at__isnull=True)
        .filter(Q(carrier__isnull=True) | Q(carrier=actor))
        .prefetch_related("keyed_to")
    )


def cores_to_pin(site: Site) -> QuerySet[Core]:
    """The bench, and what is not pinned yet and in no door; not in an open order; unpinned ones first."""
    loose = Core.objects.with_places().filter(site=site, place__in=FREE)
    return (
        _without_open_line(loose)
        .filter(Q(place=Core.Place.BENCH) | Q(pinning__isnull=True))
        .prefetch_related("keyed_to")
        .order_by(F("pinned_at").asc(nulls_first=True), "tag")
    )


def cores_to_rekey(site: Site, system: KeySystem, actor: User) -> QuerySet[Core]:
    """Free cores of the system's format that no order names: empty ones first, then those at the bench."""
    free = Core.objects.filter(
        site=site, format_id=system.format_id, place__in=FREE, disputed_at__isnull=True
    )
    at_hand = _without_open_line(free).filter(Q(carrier__isnull=True) | Q(carrier=actor))
    return at_hand.order_by(F("pinned_at").asc(nulls_first=True), "place", "tag")


def housings_to_swap(site: Site) -> QuerySet[Housing]:
    return (
        Housing.objects.filter(door__floor__building__site=site)
        .exclude(order_lines__state=OrderLine.State.OPEN)
        .select_related("door__floor__building__site")
        .prefetch_related("cores")
    )


def open_swap_at(door: Door) -> OrderLine | None:
    lines = OrderLine.objects.filter(housing__door=door, state=OrderLine.State.OPEN)
    return lines.select_related("order", "housing__door__floor__building__site").first()


def matching_cores(cores: QuerySet[Core], text: str) -> QuerySet[Core]:
    """By a part of the tag, or by the beginning of a symbol it is keyed to."""
    text = text.strip()
    if not text:
        return cores
    found = Q(keyings__symbol__symbol__istartswith=text)
    if tag := clean_tag(text):
        found |= Q(tag__contains=tag)
    return cores.filter(found).distinct()


def matching_housings(housings: QuerySet[Housing], text: str) -> QuerySet[Housing]:
    """Every word names the door, its building, its floor or the housing."""
    for word in text.split():
        housings = housings.filter(
            Q(door__number__icontains=word)
            | Q(door__name__icontains=word)
            | Q(door__floor__label__icontains=word)
            | Q(door__floor__building__code__iexact=word)
            | Q(door__floor__building__name__icontains=word)
            | Q(label__icontains=word)
        )
    return housings


def matching_keys(keys: QuerySet[KeySymbol], text: str) -> QuerySet[KeySymbol]:
    """By the beginning of the symbol, level by level; the control key last."""
    in_levels = keys.order_by(F("level").asc(nulls_last=True), "parent__ordinal", "ordinal", "symbol")
    return in_levels.filter(symbol__istartswith=text.strip()) if text.strip() else in_levels


def core_by_tag(site: Site, text: str) -> Core | None:
    """The core whose tag was typed or scanned; a scanner types the whole address on the tag."""
    tag = clean_tag(text.rsplit("/", 1)[-1])
    return Core.objects.with_places().filter(site=site, tag=tag).first() if tag else None


def owing_line(core: Core) -> OrderLine | None:
    """The line that pinned the core as it is now, where nobody tried it since or a key did wrong."""
    if core.pinned_at is None:
        return None
    lines = OrderLine.objects.filter(core=core, trying__in=OWING, done_at__gte=core.pinned_at)
    return lines.select_related("order").order_by("-done_at").first()


def keys_to_try(core: Core) -> list[KeySymbol]:
    """Its own keys, the highest master above, the control key, and one that must do nothing, if there is."""
    own = list(core.keyed_to.select_related("system", LINE).order_by("symbol")[:MOST_OWN_KEYS])
    if core.system is None or not own:
        return own
    above = [master for master in ancestors(own[0]) if not master.is_retired]
    others = [above[-1] if above else None, control_of(core.system), _key_that_does_nothing(core, own[0])]
    return own + [key for key in others if key is not None and key not in own]


def _key_that_does_nothing(core: Core, own: KeySymbol) -> KeySymbol | None:
    """The nearest number of the same master that no pins let in; else any key of the system."""
    keys = KeySymbol.objects.filter(
        system=own.system_id, kind=KeySymbol.Kind.CHANGE, retired_at__isnull=True
    ).exclude(turns__core=core)
    brothers = keys.filter(parent=own.parent_id, ordinal__gt=own.ordinal)
    found = brothers.order_by("ordinal").first() or keys.order_by("ordinal", "symbol").first()
    return KeySymbol.objects.select_related("system").get(pk=found.pk) if found else None


def _without_open_line(cores: QuerySet[Core], besides: OrderLine | None = None) -> QuerySet[Core]:
    """Nor such as go back into a door that is kept shut."""
    taken = OrderLine.objects.filter(state=OrderLine.State.OPEN)
    if besides is not None:
        taken = taken.exclude(pk=besides.pk)
    going_back = taken.filter(shut_at__isnull=False, lifted_at__isnull=True, core_out__isnull=False)
    cores = cores.exclude(pk__in=taken.filter(core__isnull=False).values("core"))
    return cores.exclude(pk__in=going_back.values("core_out"))
