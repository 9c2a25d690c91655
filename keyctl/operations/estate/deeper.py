"""Laws that span the history, the vault and the pins."""

from collections.abc import Iterator

from django.utils.translation import gettext_noop

from keyctl import engine
from keyctl.audit.checking import check_history
from keyctl.cores.models import Core, Turn
from keyctl.cores.turning import KeyFamily, pins_of
from keyctl.lib.laws import NotLookedAt
from keyctl.lib.retold import kept_text
from keyctl.operations.looking import checkpoints_lie_in
from keyctl.operations.resealing import inspect_values, sealed_count
from keyctl.vault.outer import is_sealed

# So many cores of each family are pinned out each time, others each night; a proof of the estate tries all.
SAMPLE = 200
NOT_OPENED = kept_text(gettext_noop("The vault is sealed: {count} values were counted and not opened."))
CLOSED = kept_text(gettext_noop("{place}: the sealed value does not open."))
NO_PINS_READ = kept_text(gettext_noop("The vault is sealed: no pins were read."))
WRONG_TURNS = kept_text(gettext_noop("Core {core}: {number} keys turn it otherwise than is kept."))


def broken_history() -> Iterator[str]:
    yield from check_history(folder=checkpoints_lie_in.get())


def closed_values() -> Iterator[str]:
    """Every sealed value opens with the row and field that it lies in."""
    if is_sealed():
        raise NotLookedAt(NOT_OPENED.format(count=sealed_count()))
    yield from (CLOSED.format(place=place) for place in inspect_values(_quietly).closed)


def _quietly(_words: str) -> None:
    return


def wrong_turns() -> Iterator[str]:
    """Stored turns of some cores against their pins, by keys of their own keyway: those of others may wait
    for the next proof. No bitting leaves here."""
    if is_sealed():
        raise NotLookedAt(NO_PINS_READ)
    for family in families_with_pins():
        yield from _wrong_in(family)


def families_with_pins() -> list[KeyFamily]:
    cores = Core.objects.filter(pinning__isnull=False, system__isnull=False).order_by()
    pairs = cores.values_list("format_id", "system__keyway").distinct()
    return [KeyFamily(format_id, keyway) for format_id, keyway in sorted(pairs)]


def _wrong_in(family: KeyFamily) -> Iterator[str]:
    cores = list(family.pinned().select_related("system").order_by("?")[:SAMPLE])
    keys = family.symbols().filter(system__keyway=family.keyway)
    pins = {core.pk: pins_of(core) for core in cores}
    found = set(engine.turning(family.key_side(keys), pins))
    rows = Turn.objects.filter(core__in=cores, symbol__in=keys)
    kept = set(rows.values_list("core", "symbol", "operates", "withdraws"))
    wrong = found ^ kept
    for core in cores:
        if number := len({key for pk, key, _, _ in wrong if pk == core.pk}):
            yield WRONG_TURNS.format(core=core, number=number)
