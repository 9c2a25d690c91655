"""Which formats take the same pins.

A family is told by the figures alone: the construction, the increment, the length of a pin of size 0, and
the sizes of each role. Formats that differ only in how many positions they have share one set of bins.
"""

import json
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from hashlib import sha256
from itertools import takewhile

from django.utils.translation import gettext as _

from keyctl import engine
from keyctl.formats.models import ShopFormat
from keyctl.formats.naming import name_of
from keyctl.formats.source import built_in_names
from keyctl.stock.models import PinRole

MILLIONTHS = 1_000_000

PinSize = tuple[str, int]
"""A role and a size."""


@dataclass(frozen=True)
class Family:
    """The formats that are pinned from the same bins."""

    id: str
    formats: tuple[engine.CoreFormat, ...]

    @property
    def names(self) -> list[str]:
        return [name_of(format) for format in self.formats]

    @property
    def title(self) -> str:
        """What the formats' names have in common, comma by comma; else the first one."""
        if not self.formats:
            return _("Pins of a format that is no longer known")
        if len(self.formats) == 1:
            return self.names[0]
        parts = [name.split(", ") for name in self.names]
        shared = [same[0] for same in takewhile(lambda same: len(set(same)) == 1, zip(*parts, strict=False))]
        return ", ".join(shared) or _("{name} and {count} more").format(
            name=self.names[0], count=len(self.names) - 1
        )

    @property
    def sizes(self) -> list[PinSize]:
        """Every pin of the kit, from the key upwards and by size."""
        return sizes_of(self.formats[0])

    def size_name(self, role: str, size: int) -> str:
        """The size as the shop writes it: control pins of some formats are numbered from the sleeve."""
        if role != PinRole.CONTROL or not self.formats:
            return str(size)
        written = {engine.control_label(format, size) for format in self.formats}
        return " or ".join(sorted(written))


def family_id(format: engine.CoreFormat) -> str:
    kit = [list(format.pins.sizes(role)) for role in PinRole.values]
    lengths = [round(length * MILLIONTHS) for length in (format.increment_in, format.length_in(0))]
    figures = json.dumps([format.construction, lengths, kit])
    return sha256(figures.encode()).hexdigest()[:12]


def family_of(format: engine.CoreFormat) -> Family:
    return families().get(family_id(format)) or Family(family_id(format), (format,))


def families(formats: Iterable[engine.CoreFormat] | None = None) -> dict[str, Family]:
    """The families of all known formats, by id and in the order of the formats."""
    found: dict[str, list[engine.CoreFormat]] = {}
    for format in known_formats() if formats is None else formats:
        found.setdefault(family_id(format), []).append(format)
    return {family: Family(family, tuple(members)) for family, members in found.items()}


def known_formats() -> list[engine.CoreFormat]:
    """The package's and the shop's own, retired ones too: their cores are still in doors."""
    built_in = [engine.load_format(format_id) for format_id in built_in_names()]
    return [*built_in, *(engine.parse_format(shop.mapping) for shop in ShopFormat.objects.all())]


def sizes_of(format: engine.CoreFormat) -> list[PinSize]:
    return [(role, size) for role in PinRole.values for size in format.pins.sizes(role)]


def pins_in(pinned: engine.Pinning) -> Counter[PinSize]:
    """How many pins of each role and size a core is built of; not where in the core they stand."""
    kit = set(sizes_of(pinned.format))
    return Counter(pin for stack in pinned.stacks for pin in stack.pins if pin in kit)
