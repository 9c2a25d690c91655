"""All core formats: the package's and the shop's own, by construction."""

from itertools import groupby

from django.db.models import QuerySet

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.formats.access import KnownFormat, require_reader
from keyctl.formats.models import KeywayFit, ShopFormat
from keyctl.formats.naming import name_of
from keyctl.formats.source import built_in_names
from keyctl.places.constructions import construction_words


def constructions() -> list[str]:
    """The constructions that exist: those of the package's formats."""
    return sorted({engine.load_format(format_id).construction for format_id in built_in_names()})


def formats_by_construction(actor: User) -> list[tuple[str, list[KnownFormat]]]:
    """Words for each construction, with its formats; within one the package's come first."""
    require_reader(actor)
    found = sorted(_known(), key=_place)
    grouped = groupby(found, key=lambda known: known.format.construction)
    return [(construction_words(construction), list(group)) for construction, group in grouped]


def offered_formats() -> list[tuple[str, str]]:
    """Ids and names of every format that something new may be made by."""
    built_in = [(name, name_of(engine.load_format(name))) for name in built_in_names()]
    own = ShopFormat.objects.filter(retired_at__isnull=True)
    return [*built_in, *((shop.format_id, shop.name) for shop in own)]


def blank_table(actor: User) -> QuerySet[KeywayFit]:
    """Which blanks enter which other keyways."""
    require_reader(actor)
    return KeywayFit.objects.select_related("made_by")


def _known() -> list[KnownFormat]:
    built_in = [KnownFormat(engine.load_format(format_id)) for format_id in built_in_names()]
    own = ShopFormat.objects.select_related("made_by")
    return [*built_in, *(KnownFormat(engine.parse_format(shop.mapping), shop) for shop in own)]


def _place(known: KnownFormat) -> tuple[str, bool, bool, str]:
    return known.format.construction, known.shop is not None, known.is_retired, known.format.id
