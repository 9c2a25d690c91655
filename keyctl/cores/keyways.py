"""Stored turns follow the blank table."""

from django.db.models import QuerySet

from keyctl.cores.models import Core, Turn
from keyctl.cores.turning import KeyFamily, add_turns
from keyctl.formats.models import KeywayFit
from keyctl.systems.models import KeySymbol, KeySystem

# Cores and keys together that are tried while somebody waits for the page; more are left to the next proof.
MOST_AT_ONCE = 20_000


class TurnsByKeyway:
    """What ``formats.fitting`` tells: a row of the blank table came or went."""

    def keyways(self) -> list[str]:
        return list(KeySystem.objects.order_by("keyway").values_list("keyway", flat=True).distinct())

    def added(self, fit: KeywayFit) -> bool:
        work = [(family, _keys(fit, family.format_id)) for family in _families(fit)]
        if sum(family.pinned().count() + keys.count() for family, keys in work) > MOST_AT_ONCE:
            return False
        for family, keys in work:
            family.hold()
            add_turns(family, keys)
        return True

    def removed(self, fit: KeywayFit) -> None:
        Turn.objects.filter(
            core__in=Core.objects.filter(system__keyway=fit.core_keyway),
            symbol__in=KeySymbol.objects.filter(system__keyway=fit.blank_keyway),
        ).delete()


def _families(fit: KeywayFit) -> list[KeyFamily]:
    """The cores of that keyway, by format, as far as there are keys of their format on that blank."""
    formats = set(KeySystem.objects.filter(keyway=fit.core_keyway).values_list("format_id", flat=True))
    cut = set(KeySystem.objects.filter(keyway=fit.blank_keyway).values_list("format_id", flat=True))
    return [KeyFamily(format_id, fit.core_keyway) for format_id in sorted(formats & cut)]


def _keys(fit: KeywayFit, format_id: str) -> QuerySet[KeySymbol]:
    return KeySymbol.objects.filter(system__format_id=format_id, system__keyway=fit.blank_keyway)
