"""The proof of an estate against turning every key in every core."""

from random import Random
from time import perf_counter

import pytest

from pinning import (
    Bitting,
    Pinning,
    PinningError,
    Proof,
    load,
    parse_any_bitting,
    parse_bitting,
    pin,
    prove,
    turn,
)
from tests.pinning import cases


def naive(cores: dict[int, Pinning], keys: dict[int, Bitting]) -> list[Proof[int, int]]:
    turnings = ((key, core, turn(cores[core], keys[key])) for core in cores for key in keys)
    return [
        Proof(key, core, found.operates, found.withdraws)
        for key, core, found in turnings
        if found.operates or found.withdraws
    ]


@pytest.mark.parametrize("seed", range(60))
def test_the_proof_equals_trying_every_key_in_every_core(seed: int) -> None:
    rng = Random(seed)
    format = cases.random_format(rng)
    cores = {place: cases.random_core(rng, format) for place in range(20)}
    keys = {
        place: parse_any_bitting(format, cases.random_text(rng, format))
        for place in range(rng.randint(0, 40))
    }
    assert list(prove(cores, keys)) == naive(cores, keys)


def test_an_estate_without_cores_or_keys_proves_nothing() -> None:
    a2 = load("small-a2-6")
    assert list(prove({}, {"key": parse_bitting(a2, "361492")})) == []
    assert list(prove({"core": pin(a2, ["361492"], "743810")}, {})) == []


def test_it_refuses_cores_of_several_formats() -> None:
    cores = {
        1: pin(load("small-a2-5"), ["36149"], "74381"),
        2: pin(load("small-a2-6"), ["361492"], "743810"),
    }
    with pytest.raises(PinningError, match="one format at a time"):
        list(prove(cores, {}))


def test_it_refuses_keys_of_another_length() -> None:
    with pytest.raises(PinningError, match="5 cuts"):
        list(
            prove(
                {1: pin(load("small-a2-6"), ["361492"], "743810")},
                {1: parse_bitting(load("small-a2-5"), "36149")},
            )
        )


def test_ten_thousand_cores_against_ten_thousand_keys_take_seconds() -> None:
    rng, a2 = Random(1), load("small-a2-7")
    texts = ["".join(rng.choice("02468") for _ in range(7)) for _ in range(10_000)]
    cores = {place: pin(a2, [text, "2222222"], "5555555") for place, text in enumerate(texts)}
    keys = {place: parse_bitting(a2, text) for place, text in enumerate(texts)}
    started = perf_counter()
    found = {(proof.key, proof.core) for proof in prove(cores, keys)}
    assert perf_counter() - started < 15
    assert all((place, place) in found for place in range(10_000))
