"""What may be chosen for an order or a line, and how it is searched."""

from django.db.models import F, Q, QuerySet

from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.lib.tags import clean_tag
from keyctl.orders.models import OrderLine
from keyctl.places.models import Door, Housing, Site
from keyctl.systems.models import KeySymbol, KeySystem

SHOWN_AT_ONCE = 30

# Where a core is at hand.
FREE = (Core.Place.SHELF, Core.Place.BENCH, Core.Place.CASE)


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


def cores_to_decode(site: Site) -> QuerySet[Core]:
    """Those in hand whose pins the records do not hold."""
    loose = Core.objects.with_places().filter(site=site, place__in=FREE, pinning__isnull=True)
    return _without_open_line(loose).prefetch_related("keyed_to").order_by("tag")


def housings_to_swap(site: Site) -> QuerySet[Housing]:
    return (
        Housing.objects.filter(door__floor__building__site=site)
        .exclude(order_lines__state=OrderLine.State.OPEN)
        .select_related("door__floor__building__site")
        .prefetch_related("cores")
    )


def housings_to_shut(site: Site) -> QuerySet[Housing]:
    """Those that a core locks now and no order keeps shut."""
    shut = OrderLine.objects.filter(keeps_shut=True, state=OrderLine.State.OPEN)
    return (
        Housing.objects.filter(door__floor__building__site=site, cores__isnull=False)
        .exclude(pk__in=shut.values("housing"))
        .select_related("door__floor__building__site")
        .prefetch_related("cores")
    )


def doors_to_inspect(site: Site) -> QuerySet[Door]:
    return Door.objects.filter(floor__building__site=site).with_places()


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


def matching_doors(doors: QuerySet[Door], text: str) -> QuerySet[Door]:
    """Every word names the door, its building or its floor."""
    for word in text.split():
        doors = doors.filter(
            Q(number__icontains=word)
            | Q(name__icontains=word)
            | Q(floor__label__icontains=word)
            | Q(floor__building__code__iexact=word)
            | Q(floor__building__name__icontains=word)
        )
    return doors


def matching_keys(keys: QuerySet[KeySymbol], text: str) -> QuerySet[KeySymbol]:
    """By the beginning of the symbol, level by level; the control key last."""
    in_levels = keys.order_by(F("level").asc(nulls_last=True), "parent__ordinal", "ordinal", "symbol")
    return in_levels.filter(symbol__istartswith=text.strip()) if text.strip() else in_levels


def core_by_tag(site: Site, text: str) -> Core | None:
    """The core whose tag was typed or scanned; a scanner types the whole address on the tag."""
    tag = clean_tag(text.rsplit("/", 1)[-1])
    return Core.objects.with_places().filter(site=site, tag=tag).first() if tag else None


def _without_open_line(cores: QuerySet[Core], besides: OrderLine | None = None) -> QuerySet[Core]:
    """Nor such as go back into a door that is kept shut."""
    taken = OrderLine.objects.filter(state=OrderLine.State.OPEN)
    if besides is not None:
        taken = taken.exclude(pk=besides.pk)
    going_back = taken.filter(shut_at__isnull=False, lifted_at__isnull=True, core_out__isnull=False)
    cores = cores.exclude(pk__in=taken.filter(core__isnull=False).values("core"))
    return cores.exclude(pk__in=going_back.values("core_out"))
