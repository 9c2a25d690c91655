"""`reconstruct` of `python -m pinning`: levels, advice, what it refuses, and how often it is right."""

import json
from collections import Counter
from functools import cache
from itertools import product
from math import log2
from random import Random
from typing import Any

import pytest

from pinning import (
    CoreFormat,
    Pinning,
    Refused,
    allocate,
    bitting_of,
    load,
    make_room,
    pin,
    propose_control,
    propose_master,
)
from pinning.advice import OpenCore, _Weighing, advise
from pinning.commands import answer
from pinning.evidence import CircularKey, SeenCore, seen_reading
from pinning.inference import Reconstruction, reconstruct
from pinning.levels import find_levels
from pinning.reading import read_stacks
from tests.pinning.test_commands import check, refusals

CORE = {"operating": [["3", "5"], ["6", "8"], ["1", "3"], ["4", "6"], ["9", "1"], ["2", "4"]]}
GIVEN = {"format": "small-a2-6", "cores": {"C1": CORE}}

# Format, positions by level, keys below each key: as the invented estate has them, and others.
SHAPES = {
    "four levels": ("small-a2-7", [[1, 2], [3, 4], [5, 6, 7]], [8, 3, 20]),
    "three levels": ("small-a3-6", [[1, 2], [3, 4, 5, 6]], [10, 40]),
    "sleeve over two": ("large-sleeve-34", [[1, 2], [5, 6]], [6, 12]),
}
# Three positions hold the same two cuts in every core, so only habits of shops tell; or change keys.
HARD_SHAPES = {"three levels of A4": ("small-a4-7", [[1, 2, 3], [4, 5, 6, 7]], [12, 22])}


@cache
def system(shape: str, seed: int) -> tuple[CoreFormat, tuple[int, ...], tuple[Pinning, ...]]:
    """A designed system: its top master's cuts and the cores of all its change keys."""
    format_id, groups, children = (SHAPES | HARD_SHAPES)[shape]
    format = load(format_id)
    for trial in range(100):
        rng = Random(f"{shape} {seed} {trial}")
        try:
            master = propose_master(format, rng)
            array = make_room(format, master, rng)
            control = propose_control(format, master, rng, array)
            tree = allocate(format, master, groups, array)
            lines = [
                [tree.bitting(path[:n]).text for n in range(len(path) + 1)]
                for path in product(*map(range, children))
            ]
            return format, master.cuts, tuple(pin(format, line, control) for line in lines)
        except (Refused, IndexError):
            continue
    raise AssertionError(shape)


def sample(shape: str, seed: int, number: int, name: str = "C") -> list[SeenCore]:
    _, _, cores = system(shape, seed)
    chosen = Random(f"{seed} {number}").sample(cores, min(number, len(cores)))
    return [seen_reading(f"{name}{n}", read_stacks(core.format, core)) for n, core in enumerate(chosen)]


def misread(rng: Random, format: CoreFormat, core: SeenCore) -> SeenCore:
    columns = [*core.columns]
    place = rng.randrange(format.positions)
    cut = rng.choice(sorted(columns[place][0]))
    moved = rng.choice([depth for depth in (cut - 1, cut + 1) if depth in format.depth_values])
    columns[place] = (columns[place][0] - {cut} | {moved},)
    return SeenCore(core.name, tuple(columns), core.control)


def spoiled(shape: str, seed: int, number: int) -> list[SeenCore]:
    """As `sample`, with two cores misread by one depth in one position and two of another system."""
    format, rng = system(shape, seed)[0], Random(seed)
    cores = sample(shape, seed, number)
    cores[:2] = [misread(rng, format, core) for core in cores[:2]]
    cores[2:4] = sample(shape, seed + 1000, 2, "F")
    return cores


def rank(shape: str, seed: int, cores: list[SeenCore]) -> int:
    format, master, _ = system(shape, seed)
    shares = reconstruct(format, cores).shares
    return list(shares).index(master) + 1 if master in shares else 10**6


@pytest.mark.parametrize("shape", SHAPES)
def test_thirty_cores_show_the_top_master_among_the_first_three(shape: str) -> None:
    assert max(rank(shape, seed, sample(shape, seed, 30)) for seed in range(12)) <= 3


@pytest.mark.parametrize("shape", SHAPES)
def test_two_misread_and_two_foreign_cores_do_not_hide_it(shape: str) -> None:
    ranks = [rank(shape, seed, spoiled(shape, seed, 30)) for seed in range(12)]
    assert sum(each <= 3 for each in ranks) >= 11


@pytest.mark.parametrize("shape", HARD_SHAPES)
def test_what_pins_leave_alike_two_change_keys_settle(shape: str) -> None:
    alone = [rank(shape, seed, sample(shape, seed, 30)) for seed in range(12)]
    assert sum(each <= 3 for each in alone) >= 10
    keyed = []
    for seed in range(12):
        format, master, _ = system(shape, seed)
        cores = sample(shape, seed, 30)
        own = [
            tuple(next(iter(core.beside(place, cut))) for place, cut in enumerate(master)) for core in cores
        ]
        keys = [CircularKey(f"K{n}", bitting_of(format, cuts)) for n, cuts in enumerate(own[:2])]
        keyed.append(list(reconstruct(format, cores, keys).shares).index(master) + 1)
    assert keyed == [1] * 12


def test_ten_cores_of_a_system_used_all_over_settle_the_top_master() -> None:
    """Change keys drawn from the whole array leave no position with the same two cuts everywhere."""
    a2 = load("small-a2-7")
    hits = Counter[int]()
    for seed in range(20):
        rng = Random(seed)
        tree = allocate(a2, propose_master(a2, rng), [[1, 2, 3, 4, 5, 6, 7]])
        control = propose_control(a2, tree.master, rng)
        texts = [tree.bitting((rng.randrange(4**7),)).text for _ in range(10)]
        pinned = [pin(a2, [text, tree.master.text], control) for text in texts]
        cores = [seen_reading(str(n), read_stacks(a2, core)) for n, core in enumerate(pinned)]
        found = reconstruct(a2, cores)
        hits[list(found.shares).index(tree.master.cuts)] += 1
        assert found.control is not None
        assert found.control.bitting == control
    assert hits[0] >= 19


def pair(format: CoreFormat, top: str, change: str, **facts: Any) -> SeenCore:
    cuts = zip(top, change, strict=True)
    columns = tuple((frozenset({int(own), int(other)}),) for own, other in cuts)
    return SeenCore(facts.pop("name", change), columns, **facts)


def grouped() -> Reconstruction:
    a2 = load("small-a2-6")
    north, south = ("301010", "301276", "301852"), ("527430", "527618", "527296")
    cores = [pair(a2, "143254", text, group="north") for text in north]
    cores += [pair(a2, "143254", text, group="south") for text in south]
    return reconstruct(a2, cores)


def test_parts_of_the_house_show_levels_and_their_masters() -> None:
    found = find_levels(grouped())
    assert [(level.positions, level.told_by) for level in found.levels] == [
        ((1, 2, 3), "group"),
        ((4, 5, 6), "group"),
    ]
    assert {(m.bitting.text, m.name, m.members) for m in found.masters} == {
        ("301254", "north", ("301010", "301276", "301852")),
        ("527254", "south", ("527430", "527618", "527296")),
    }


def test_the_tree_of_many_cores_shows_the_positions_that_vary_together() -> None:
    """Four parts that differ in two positions at once: far fewer nodes than by chance."""
    a2, rng = load("small-a2-6"), Random(3)
    parts = [("3", "0"), ("5", "2"), ("7", "6"), ("9", "8")]
    texts = {
        "".join(part) + "".join(rng.choice("0268") for _ in range(4)) for part in parts for _ in range(20)
    }
    found = find_levels(reconstruct(a2, [pair(a2, "144444", text) for text in sorted(texts)]))
    assert found.levels[0].positions == (1, 2)
    assert {m.bitting.text for m in found.masters} == {f"{''.join(part)}4444" for part in parts}


def referee_gain(found: Reconstruction, chances: dict[int, float], place: int) -> float:
    """Entropy of the master's cut in one position less what is left after one more core, written out."""
    prior = found.marginals[place]
    seen: dict[frozenset[int], Counter[int]] = {}
    for cut, share in prior.items():
        own = {other: chance for other, chance in chances.items() if other != cut}
        for other, chance in own.items():
            column = frozenset({cut, other}) & frozenset(c for c, s in prior.items() if s >= 0.002)
            seen.setdefault(column, Counter())[cut] += share * chance / sum(own.values())  # type: ignore[assignment]
    left = -sum(p * log2(p / sum(col.values())) for col in seen.values() for p in col.values() if p)
    return -sum(p * log2(p) for p in prior.values()) - left


def test_the_gain_of_a_stranger_is_the_expected_fall_of_entropy() -> None:
    a2 = load("small-a2-6")
    texts = ("301010", "321276", "387852", "361630", "325472", "309016", "387638", "361470")
    found = reconstruct(a2, [pair(a2, "143254", text) for text in texts])
    stranger = next(each for each in advise(found) if each.kind == "other")
    assert stranger.positions == (1,)
    assert stranger.gain_bits == pytest.approx(
        referee_gain(found, dict.fromkeys((1, 3, 5, 7, 9), 1.0), 0), abs=0.02
    )


def test_a_door_of_a_part_not_seen_yet_tells_more_than_one_of_a_known_part() -> None:
    a2 = load("small-a2-6")
    cores = [pair(a2, "143254", text, group="north") for text in ("301010", "301276", "301852", "301638")]
    said = advise(reconstruct(a2, cores), [OpenCore("Door 1", "north"), OpenCore("Door 2", "south")])
    gains = {each.label: each.gain_bits for each in said if each.kind == "core"}
    assert gains["Door 2"] > 2 * gains.get("Door 1", 0.0)
    assert "Decode Door 2" in next(each.message for each in said if each.label == "Door 2")


def test_doors_of_one_part_are_weighed_once(monkeypatch: pytest.MonkeyPatch) -> None:
    a2, weighed = load("small-a2-6"), Counter[str]()
    cores = [pair(a2, "143254", text, group="north") for text in ("301010", "301276", "301852", "301638")]
    found, advice = reconstruct(a2, cores), _Weighing.advice

    def counted(self: _Weighing, kind: str, label: str, look: Any) -> Any:
        weighed[kind] += 1
        return advice(self, kind, label, look)

    monkeypatch.setattr(_Weighing, "advice", counted)
    advise(found, [OpenCore(f"Door {n}", "south" if n % 2 else "north") for n in range(400)])
    assert weighed["core"] == 2


def test_nothing_is_advised_where_nothing_is_open() -> None:
    a2 = load("small-a2-6")
    rng = Random(2)
    texts = [
        "".join(
            rng.choice([d for d in "0123456789" if d != t and (int(d) - int(t)) % 2 == 0]) for t in "143254"
        )
        for _ in range(30)
    ]
    assert advise(reconstruct(a2, [pair(a2, "143254", text) for text in texts])) == ()


def asked(given: object) -> dict[str, Any]:
    status, output = answer("reconstruct", json.dumps(given).encode())
    assert status == 0, output
    check("reconstruct_input", given)
    check("reconstruct_output", output)
    return output


def test_cuts_and_pins_of_a_core_say_the_same() -> None:
    given = {"format": "small-a2-6", "operating": ["583614", "361492"], "control": "743810"}
    stacks = answer("pin", json.dumps(given).encode())[1]["stacks"]
    by_pins = asked(GIVEN | {"cores": {"C1": {"stacks": stacks}}})
    assert by_pins == asked(GIVEN | {"cores": {"C1": CORE | {"control": "743810"}}})
    assert by_pins["control"]["bitting"] == "743810"


def test_what_is_given_besides_counts() -> None:
    plain = asked(GIVEN)
    told = asked(GIVEN | {"cores": {"C1": CORE | {"change": "361492", "group": "north"}}})
    assert told["candidates"][0]["bitting"] == "583614" != plain["candidates"][0]["bitting"]
    keyed = asked(
        GIVEN | {"keys": {"K1": "361492", "K2": "000000"}, "open": ["D1", {"label": "D2", "group": "A"}]}
    )
    assert keyed["candidates"][0]["bitting"] == "583614"
    assert keyed["keys"] == [
        {"key": "K1", "turns": ["C1"], "is": "change"},
        {"key": "K2", "turns": [], "is": "unknown"},
    ]
    assert {"D1", "D2"} <= {each["label"] for each in keyed["next"]}


def test_a_format_without_a_sleeve_has_no_control_key() -> None:
    assert asked(GIVEN | {"format": "fixed-6"})["control"] is None


@pytest.mark.parametrize(
    ("changes", "codes"),
    [
        ({"format": "nope"}, ["unknown_format"]),
        ({"cores": None}, ["missing"]),
        ({"cores": {}}, ["no_cores"]),
        ({"cores": []}, ["type"]),
        ({"cores": {"": CORE}}, ["value"]),
        ({"cores": {"C1": 3}}, ["type"]),
        ({"cores": {"C1": {}}}, ["missing", "length"][:1]),
        ({"cores": {"C1": {"operating": CORE["operating"][:5]}}}, ["length"]),
        ({"cores": {"C1": {"operating": [*CORE["operating"][:5], []]}}}, ["depth"]),
        ({"cores": {"C1": {"operating": [*CORE["operating"][:5], ["x"]]}}}, ["depth"]),
        ({"cores": {"C1": {"operating": [*CORE["operating"][:5], "24"]}}}, ["depth"]),
        ({"cores": {"C1": CORE | {"control": "12", "change": "x61492"}}}, ["depth", "length"]),
        ({"cores": {"C1": CORE | {"stacks": []}}}, ["value"]),
        ({"cores": {"C1": {"stacks": []}}}, ["positions"]),
        ({"cores": {"C1": CORE | {"doubts": []}}}, ["unknown_field"]),
        ({"cores": {"C1": CORE | {"group": 3}}}, ["type"]),
        ({"format": "fixed-6", "cores": {"C1": CORE | {"control": "743810"}}}, ["control_not_used"]),
        ({"keys": []}, ["type"]),
        ({"keys": {"K1": 1, "K2": "36149"}}, ["length", "type"]),
        ({"open": {}}, ["type"]),
        ({"open": [3, {"group": "A"}]}, ["missing", "type"]),
        ({"rules": {}}, ["unknown_field"]),
    ],
)
def test_it_refuses_a_wrong_field(changes: dict[str, Any], codes: list[str]) -> None:
    assert sorted(refusals("reconstruct", GIVEN | changes)) == codes


def test_answers_stay_short() -> None:
    many = {f"C{n}": CORE for n in range(50)}
    output = asked(GIVEN | {"cores": many, "open": [f"D{n}" for n in range(50)]})
    assert len(output["candidates"]) <= 20
    assert len(output["next"]) <= 10
    assert output["next"][0]["gain_bits"] >= output["next"][-1]["gain_bits"]
