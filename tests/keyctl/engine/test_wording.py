"""What `pinning` tells is said by the engine in the language of the reader, to the last word put into it."""

import re
from collections.abc import Callable, Iterable, Iterator

import pytest
from django.utils import translation

from keyctl import engine
from keyctl.engine import wording
from keyctl.lib import lengths
from keyctl.lib.errors import Refused
from pinning.wording import Inches, counted, said

A2 = "small-a2-6"
GOOD = [0.1475, 0.025, 0.15, 0.075]
BETWEEN = [0.1475, 0.0312, 0.15, 0.075]
KEYS = ("361492", "529674")
PLACES = re.compile(r"(\{\w+\})")
WORD = re.compile(r"[A-Za-z]{3,}")


def reasons_of(act: Callable[[], object]) -> list[str]:
    with pytest.raises(Refused) as refused:
        act()
    return list(refused.value.reasons)


def without(format_id: str, **changes: object) -> dict[str, object]:
    return engine.format_parameters(engine.load_format(format_id)) | changes


def doubts_of(columns: list[list[float]]) -> list[str]:
    return [engine.say(doubt.message) for doubt in engine.read_stacks(A2, measured_in=columns).doubts]


def key_doubts() -> list[str]:
    roots = [engine.load_format(A2).root_depth_in(cut) or 0.0 for cut in (3, 6, 1, 4, 9, 2)]
    worn = [roots[0] - 0.009, roots[1] + 0.5, *roots[2:4], roots[4] - 0.02, roots[5]]
    return [engine.say(doubt.message) for doubt in engine.read_measured_key(A2, worn).doubts]


def reconstructed() -> list[str]:
    keys = ["583614", "705278", "927830", "149056"]
    cores = [engine.seen_pins(key, engine.pin(A2, [key, "361492"], "743810")) for key in keys]
    cores.append(engine.seen_pins("ODD", engine.pin(A2, ["058101", "290743"], "612399")))
    found = engine.reconstruct(A2, cores[:2], {}, [("NEW", None)])
    odd = engine.reconstruct(A2, cores, {}).found.odd
    return [engine.say(look.message) for look in found.advice] + [engine.say(core.message) for core in odd]


def proof_reasons() -> list[str]:
    kit = without(A2)["pins"] | {"bottom": [0, 1]}  # type: ignore[operator]
    proof = engine.prove_format(without(A2, pins=kit))
    return [engine.say(reason) for each in proof.impossible[:50] for reason in each.reasons]


CASES: dict[str, Callable[[], Iterable[str]]] = {
    "length and depth": lambda: reasons_of(lambda: engine.read_key(A2, "36x")),
    "pinned": lambda: reasons_of(lambda: engine.pin(A2, ["3614", "361493", "-61492"], None)),
    "no series": lambda: reasons_of(lambda: engine.pin(A2, ["361492", "461492"], "743810")),
    "no pins": lambda: reasons_of(lambda: engine.pin(A2, ["------"], "------")),
    "withdraws": lambda: reasons_of(lambda: engine.pin(A2, ["361492"], "361492")),
    "measured": lambda: doubts_of([BETWEEN, GOOD, [0.1475, 0.025, 0.11, 0.075], GOOD, GOOD, GOOD]),
    "no shape": lambda: reasons_of(lambda: engine.residuals(A2, [[0.1], [-1.0, 2.0]])),
    "calipers": key_doubts,
    "format": lambda: [
        reason
        for _, reason in wrong_fields({"positions": 99, "depths": "00", "step": "x", "pins": {"top": 1}})
    ],
    "total": lambda: [reason for _, reason in wrong_fields(without(A2, total={}))],
    "proof": proof_reasons,
    "doors": lambda: reasons_of(lambda: engine.choose_keys({"A": ["1"]}, ["2"], limit_s=1)),
    "reconstruction": reconstructed,
    "tried": lambda: reasons_of(
        lambda: engine.try_key(engine.pin(A2, KEYS, "743810"), engine.read_key("small-a2-5", "36149"))
    ),
    "another blank": lambda: reasons_of(
        lambda: engine.try_key(engine.pin(A2, KEYS, "743810"), engine.read_key(A2, KEYS[0]), "control")
    ),
}


def wrong_fields(parameters: dict[str, object]) -> list[tuple[str | None, str]]:
    with pytest.raises(engine.RefusedByEngine) as refused:
        engine.parse_format(parameters)
    return refused.value.fields


@pytest.fixture
def bracketed(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each text in brackets, what is put into it outside of them."""

    def pseudo(text: str) -> str:
        parts = PLACES.split(text)
        return "".join(part if nth % 2 or not part else f"⟦{part}⟧" for nth, part in enumerate(parts))

    monkeypatch.setattr(wording, "gettext", pseudo)
    monkeypatch.setattr(wording, "ngettext", lambda one, many, number: pseudo(one if number == 1 else many))


def outside(told: str) -> Iterator[str]:
    for found in WORD.finditer(re.sub(r"⟦[^⟦⟧]*⟧", " ", told)):
        yield found.group()


@pytest.mark.parametrize("name", CASES)
def test_no_word_of_a_reason_is_said_outside_of_the_catalogue(name: str, bracketed: None) -> None:
    told = list(CASES[name]())
    assert told != []
    assert all("⟦" in each for each in told)
    left = {word for each in told for word in outside(each)}
    assert left <= {"ODD", "NEW"}  # names that people gave


@pytest.mark.parametrize("name", CASES)
def test_every_reason_has_its_german(name: str) -> None:
    english = list(CASES[name]())
    with translation.override("de"):
        german = list(CASES[name]())
    assert [each for each, other in zip(english, german, strict=True) if each == other] == []


def test_numbers_and_lengths_are_the_readers() -> None:
    told = said(
        "{total} pairs, {length} apart: {more}.", total=12_345, length=Inches(0.0125), more=("4", 1_000)
    )
    assert str(told) == "12,345 pairs, 0.0125 in apart: 4, 1,000."
    with translation.override("de"):
        assert engine.say(told) == "12.345 pairs, 0,0125 in (0,318 mm) apart: 4, 1.000."
        token = lengths.units.set(lengths.MM)
        assert engine.say(told) == "12.345 pairs, 0,318 mm (0,0125 in) apart: 4, 1.000."
        lengths.units.reset(token)
    assert engine.say("Front door") == "Front door"


def test_one_fact_is_left_open_and_the_position_left_out() -> None:
    reason = counted("{number} pin of {size}", "{number} pins of {size}", 2, size=4)
    told = said("Position {position}: {reason}", position=3, reason=reason)
    assert str(told) == "Position 3: 2 pins of 4"
    assert engine.say_open(told, "size") == ("2 pins of {}", 4)
    assert engine.say_open(told, "depth") == ("2 pins of 4", None)
    assert engine.say_open("plain", "size") == ("plain", None)
