"""What the constraints of key systems and drafts forbid; `tests/test_invariants.py` tries each."""

from collections.abc import Callable

from django.utils import timezone

from keyctl.systems.models import KeySymbol, KeySystem, SystemDraft
from tests import factories
from tests.cast import Cast
from tests.keyctl.keys.keyroom import bare_key, bare_system


def two_keys_of_one_bitting(cast: Cast) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    first, second = system.symbols.filter(kind=KeySymbol.Kind.CHANGE)[:2]
    KeySymbol.objects.filter(pk=second.pk).update(fingerprint=first.fingerprint)


def a_change_key_without_a_parent(cast: Cast) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    system.symbols.filter(kind=KeySymbol.Kind.CHANGE).update(parent=None)


def two_open_drafts_of_one_code(cast: Cast) -> None:
    first, second = (factories.make_draft(cast.north, actor=cast.locksmith) for _ in range(2))
    SystemDraft.objects.filter(pk=second.pk).update(code=first.code)


def a_made_draft_without_its_system(cast: Cast) -> None:
    draft = factories.make_draft(cast.north, actor=cast.locksmith)
    SystemDraft.objects.filter(pk=draft.pk).update(made_at=timezone.now())


def seven_levels(cast: Cast) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    KeySystem.objects.filter(pk=system.pk).update(levels=7)


def two_keys_in_one_place(cast: Cast) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    system.symbols.filter(level=1).update(ordinal=0)


def two_systems_of_one_code(cast: Cast) -> None:
    first, second = (bare_system(cast.north, actor=cast.administrator) for _ in range(2))
    KeySystem.objects.filter(pk=second.pk).update(code=first.code)


def two_keys_of_one_symbol(cast: Cast) -> None:
    system = bare_system(cast.north, actor=cast.administrator)
    for _ in range(2):
        bare_key(system, "AA1")


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "key_system_code_is_unique": two_systems_of_one_code,
    "key_symbol_is_unique_in_its_system": two_keys_of_one_symbol,
    "key_symbol_has_its_own_bitting": two_keys_of_one_bitting,
    "open_draft_has_its_own_code": two_open_drafts_of_one_code,
    "made_draft_has_its_system": a_made_draft_without_its_system,
    "key_system_has_one_to_six_levels": seven_levels,
    "key_symbol_has_its_own_place_under_its_parent": two_keys_in_one_place,
    "key_symbol_stands_in_the_tree": a_change_key_without_a_parent,
}
