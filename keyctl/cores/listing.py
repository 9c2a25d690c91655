"""The estate as its pages show it: doors with what is in them, and a few figures."""

from dataclasses import dataclass

from django.db.models import Count, Prefetch, Q, QuerySet
from django.urls import reverse

from keyctl.accounts.models import User
from keyctl.cores.access import readable_core, visible_cores
from keyctl.cores.models import Core
from keyctl.cores.selectors import doors_opened_by
from keyctl.lib.tags import clean_tag
from keyctl.places.access import visible_doors, visible_housings
from keyctl.places.models import Building, Door, Housing, Site
from keyctl.places.selectors import doors_in, named_like
from keyctl.systems.models import KeySymbol

TAG_LENGTH = 12
SHORTEST_TAG_PART = 4
FREE = (Core.Place.SHELF, Core.Place.BENCH, Core.Place.CASE)


@dataclass(frozen=True)
class Figures:
    doors: int
    in_housings: int
    free: int
    empty_housings: int


def find_doors(
    actor: User, text: str = "", *, site: Site | None = None, building: Building | None = None
) -> QuerySet[Door]:
    """Doors by number, room, building, or a part of the tag of a core in them; with all that is in them."""
    wanted = named_like(text)
    if part := tag_in(text):
        holding = Core.objects.filter(tag__contains=part, housing__isnull=False)
        wanted |= Q(pk__in=holding.values("housing__door"))
    return doors_in(actor, site=site, building=building).filter(wanted).prefetch_related(_contents())


def find_cores(actor: User, text: str = "", *, site: Site | None = None, place: str = "") -> QuerySet[Core]:
    """Cores by a part of the tag, the system or a key that they are keyed to; by their tags."""
    cores = visible_cores(actor)
    if site:
        cores = cores.filter(site=site)
    if place in Core.Place.values:
        cores = cores.filter(place=place)
    if text:
        keyed = Core.objects.filter(keyings__symbol__symbol__iexact=text.strip())
        wanted = Q(system__code__iexact=text.strip()) | Q(pk__in=keyed.values("pk"))
        if part := tag_in(text):
            wanted |= Q(tag__contains=part)
        cores = cores.filter(wanted)
    return cores.order_by("tag").prefetch_related("keyed_to")


def contents_of(door: Door) -> QuerySet[Housing]:
    """The housings of one door with their cores."""
    return door.housings.order_by("kind", "label").prefetch_related(_cores())


def figures_of(actor: User, site: Site | None = None) -> Figures:
    cores, housings = visible_cores(actor), visible_housings(actor)
    if site:
        cores, housings = cores.filter(site=site), housings.filter(door__floor__building__site=site)
    counted = cores.aggregate(
        in_housings=Count("pk", filter=Q(place=Core.Place.HOUSING)),
        free=Count("pk", filter=Q(place__in=FREE)),
    )
    empty = housings.filter(cores__isnull=True).count()
    return Figures(doors=doors_in(actor, site=site).count(), empty_housings=empty, **counted)


def tag_in(text: str) -> str:
    """The text as a tag or a part of one; empty where it can be neither.

    >>> tag_in("bcdf-2345"), tag_in("Boiler room"), tag_in("B12")
    ('BCDF2345', '', '')
    """
    part = clean_tag(text)
    is_tag = part == "".join(sign for sign in text.upper() if sign.isalnum())
    return part if is_tag and len(part) >= SHORTEST_TAG_PART else ""


def core_tagged(actor: User, text: str) -> Core | None:
    """The visible core whose whole tag was typed or scanned."""
    tag = tag_in(text)
    return visible_cores(actor).filter(tag=tag).first() if len(tag) == TAG_LENGTH else None


def page_of_core(actor: User, tag: str) -> str | None:
    """For the finder of printed codes."""
    core = Core.objects.filter(tag=tag).only("pk").first()
    return reverse("cores:detail", args=[readable_core(actor, core.pk).pk]) if core else None


def opened_doors(actor: User, symbol: KeySymbol) -> QuerySet[Door]:
    """The visible doors with a core that the key turns, by the pins."""
    opened = doors_opened_by(symbol).order_by().values("pk")
    return visible_doors(actor).filter(pk__in=opened).prefetch_related(_contents())


def doors_withdrawn_by(actor: User, symbol: KeySymbol) -> QuerySet[Door]:
    """The doors with a core that the key takes out, by the pins."""
    held = Housing.objects.filter(cores__turns__symbol=symbol, cores__turns__withdraws=True)
    return visible_doors(actor).filter(pk__in=held.values("door")).prefetch_related(_contents())


def cores_keyed_to(actor: User, symbol: KeySymbol) -> QuerySet[Core]:
    return visible_cores(actor).filter(keyings__symbol=symbol)


def _contents() -> "Prefetch[str, QuerySet[Housing], str]":
    return Prefetch("housings", Housing.objects.order_by("kind", "label").prefetch_related(_cores()))


def _cores() -> "Prefetch[str, QuerySet[Core], str]":
    return Prefetch("cores", Core.objects.prefetch_related("keyed_to"))
