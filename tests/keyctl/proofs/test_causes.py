"""Each cause is told by its rule, from what the records hold."""

from datetime import timedelta

from django.utils import timezone

from keyctl import engine
from keyctl.bench.services import record_found_pins
from keyctl.cores.models import Core
from keyctl.formats.keyways import add_keyway_fit
from keyctl.proofs.models import Cause, Finding
from keyctl.systems.models import KeySymbol
from keyctl.systems.services import NewKey, add_symbols, bitting_of
from keyctl.vault import services as vault
from tests import factories
from tests.keyctl.proofs.estate import Estate, key_to, put_pins, told

LATER = timedelta(hours=1)


def line_to(estate: Estate, change: str) -> list[KeySymbol]:
    return [estate.key(name) for name in ("A", change[:-1], change)]


def test_pins_made_from_the_plan_give_no_finding(estate: Estate) -> None:
    estate.core("AA1")
    assert told(estate.prove()) == set()


def test_a_core_keyed_anew_and_not_pinned_yet(estate: Estate) -> None:
    core = estate.core("AA1")
    key_to(core, estate.key("AB2"), at=timezone.now() + LATER)
    assert told(estate.prove()) == {
        ("AA1", "turns-unplanned", Cause.REPLANNED),
        ("AA", "turns-unplanned", Cause.REPLANNED),
        ("AB2", "does-not-turn", Cause.REPLANNED),
        ("AB", "does-not-turn", Cause.REPLANNED),
    }


def test_a_key_that_is_younger_than_the_pins(estate: Estate) -> None:
    core = estate.core("AA1")
    put_pins(core, [estate.key("AA1"), estate.key("AA")])
    _add_later(estate.key("A"))
    assert ("A", "does-not-turn", Cause.REPLANNED) in told(estate.prove())


def test_a_control_key_that_is_younger_than_the_pins(estate: Estate) -> None:
    core = estate.core("AA1")
    line = [bitting_of(key) for key in line_to(estate, "AA1")]
    _store(core, engine.pin(core.format_id, line, _other_control(estate)))
    _add_later(estate.key("CTR"))
    assert ("CTR", "does-not-withdraw", Cause.REPLANNED) in told(estate.prove())


def test_pins_read_at_the_bench(estate: Estate) -> None:
    core = estate.core("AA1")
    control = estate.key("CTR")
    found = engine.pin(
        core.format_id, [bitting_of(key) for key in line_to(estate, "AB2")], bitting_of(control)
    )
    record_found_pins(
        actor=estate.cast.locksmith,
        core=core,
        version=core.version,
        stacks=engine.dump(found),
        despite_doubts=True,
    )
    assert {cause for _, _, cause in told(estate.prove())} == {Cause.BENCH}


def test_pins_that_nobody_wrote_down(estate: Estate) -> None:
    put_pins(estate.core("AA1"), line_to(estate, "AB2"))
    assert {cause for _, _, cause in told(estate.prove())} == {Cause.UNKNOWN}


def test_older_rows_without_a_moment_say_nothing(estate: Estate) -> None:
    core = estate.core("AA1")
    key_to(core, estate.key("AB2"), at=None)
    assert {cause for _, _, cause in told(estate.prove())} == {Cause.UNKNOWN}


def test_cross_keying_lets_in_what_neither_key_alone_would(estate: Estate) -> None:
    """AA1 and AB2 differ in both groups of positions, so their core takes AA2 and AB1 as well."""
    estate.core("AA1", "AB2")
    assert told(estate.prove()) == {
        ("AA2", "turns-unplanned", Cause.CROSS_KEYED),
        ("AB1", "turns-unplanned", Cause.CROSS_KEYED),
    }
    words = Finding.objects.get(symbol__symbol="AB1").words
    assert words == "Cross keying of AA1 and AB2 lets AB1 in."


def test_a_key_of_another_system_on_the_same_keyway(estate: Estate) -> None:
    core = estate.core("AA1")
    twin = factories.make_system(estate.cast.north, actor=estate.cast.administrator, keyway="WIDE")
    found = told(estate.prove())
    assert ("AA1", "turns-unplanned", Cause.SAME_KEYWAY) in found
    assert ("CTR", "withdraws-unplanned", Cause.SAME_KEYWAY) in found
    assert {cause for _, _, cause in found} == {Cause.SAME_KEYWAY}
    own = Finding.objects.filter(core=core, symbol__system=twin)
    assert own.count() == own.filter(is_foreign=True).count() == len(found)


def test_a_key_of_another_system_on_a_blank_that_enters(estate: Estate) -> None:
    estate.core("AA1")
    factories.make_system(estate.cast.north, actor=estate.cast.administrator, keyway="THIN")
    assert told(estate.prove()) == set()
    add_keyway_fit(
        actor=estate.cast.locksmith, blank_keyway="THIN", core_keyway="WIDE", reason="Tried at the bench"
    )
    assert ("AA1", "turns-unplanned", Cause.OTHER_KEYWAY) in told(estate.prove())
    assert "its blank of keyway THIN enters WIDE" in Finding.objects.all()[0].words


def test_cuts_of_masters_that_come_together(estate: Estate) -> None:
    """The top's cuts in the last group under the cuts of AA: a key of these turns every core below AA."""
    estate.core("AA1")
    mixed = _add_key(estate, _mixed(estate))
    assert told(estate.prove()) == {(mixed.symbol, "turns-unplanned", Cause.INCIDENTAL)}


def test_an_operating_key_whose_cuts_meet_the_control_line(estate: Estate) -> None:
    """Bitted like the control key, but an operating key: the planned pins let it take the core out."""
    core = estate.core("AA1")
    taking = _add_key(estate, bitting_of(estate.key("CTR")))
    found = told(estate.prove())
    assert (taking.symbol, "withdraws-unplanned", Cause.AT_CONTROL) in found
    assert Finding.objects.filter(core=core, is_foreign=False).count() == len(found)


def test_a_plan_that_fits_into_no_core(estate: Estate) -> None:
    core = estate.core("AA1")
    strange = _add_key(estate, _of_other_parity(estate))
    key_to(core, estate.key("AA1"), strange, at=None)
    assert (strange.symbol, "does-not-turn", Cause.UNPINNABLE) in told(estate.prove())


def test_no_words_hold_cuts(estate: Estate) -> None:
    estate.core("AA1", "AB2")
    put_pins(estate.core("AB1"), line_to(estate, "AA2"))
    estate.prove()
    bittings = [bitting_of(symbol) for symbol in KeySymbol.objects.all()]
    words = " ".join(Finding.objects.values_list("words", flat=True))
    assert words
    assert not any(bitting in words for bitting in bittings)


def _add_later(symbol: KeySymbol) -> None:
    """As if the key had come to its system after the core was pinned."""
    facts = {"created_at": timezone.now() + LATER, "origin": KeySymbol.Origin.EXTENDED}
    KeySymbol.objects.filter(pk=symbol.pk).update(**facts)


def _store(core: Core, pinned: engine.Pinning) -> None:
    core.pinning = vault.seal(core, "pinning", engine.dump(pinned))
    core.save(update_fields=["pinning"])


def _other_control(estate: Estate) -> str:
    own = bitting_of(estate.key("CTR"))
    return own[:-1] + str((int(own[-1]) + 2) % 10)


def _mixed(estate: Estate) -> str:
    """AA's cuts in the first group, the change's in one position of the last group, the top's elsewhere."""
    top, change = bitting_of(estate.key("A")), bitting_of(estate.key("AA1"))
    places = [place for place, (one, two) in enumerate(zip(top, change, strict=True)) if one != two]
    return "".join(change[place] if place == places[-1] else cut for place, cut in enumerate(top))


def _of_other_parity(estate: Estate) -> str:
    own = bitting_of(estate.key("AA1"))
    return own[:-1] + str((int(own[-1]) + 1) % 10)


def _add_key(estate: Estate, bitting: str) -> KeySymbol:
    """A change key right below the top, as a list that is brought in may hold one."""
    entry = NewKey("A9", KeySymbol.Kind.CHANGE, bitting, parent="A", level=1, ordinal=8)
    return add_symbols(
        actor=estate.cast.administrator,
        system=estate.system,
        entries=[entry],
        origin=KeySymbol.Origin.BROUGHT_IN,
    )[0]
