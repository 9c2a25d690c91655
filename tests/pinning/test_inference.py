"""An inherited system reconstructed, against asking every bitting, with the model written out."""

from collections import Counter
from functools import cache
from itertools import combinations, pairwise, product
from math import exp, isclose, log
from random import Random
from typing import Any

import pytest

from pinning import CoreFormat, Refused, bitting_of, load, parse_bitting, parse_format, pin, read_stacks
from pinning.evidence import CircularKey, SeenCore, seen_reading
from pinning.inference import Reconstruction, reconstruct
from tests.pinning import cases

Sets = list[frozenset[int]]


def small_format(rng: Random) -> CoreFormat:
    """Two or three positions, four or five depths, so that all bittings can be asked."""
    while True:
        mapping = cases.random_mapping(rng)
        if 2 <= mapping["positions"] <= 3 and 4 <= len(mapping["depths"]) <= 5:
            return parse_format(mapping)


def sampled(rng: Random, format: CoreFormat) -> tuple[tuple[int, ...], list[SeenCore], list[CircularKey]]:
    """A master, some of its cores, a few of them misread or foreign, and keys that turn some of them."""
    master = tuple(rng.choice(format.depth_values) for _ in range(format.positions))
    cores = []
    for number in range(rng.randint(1, 7)):
        own = master if rng.random() < 0.85 else [rng.choice(format.depth_values) for _ in master]
        columns = [(column_with(rng, format, cut),) for cut in own]
        if rng.random() < 0.15:
            place = rng.randrange(format.positions)
            columns[place] = (column_with(rng, format, rng.choice(format.depth_values)),)
        cores.append(SeenCore(f"C{number}", tuple(columns)))
    keys = []
    for number in range(rng.choice([0, 0, 1, 2])):
        core = rng.choice(cores)
        cuts = [rng.choice(sorted(column[0])) for column in core.columns]
        keys.append(CircularKey(f"K{number}", bitting_of(format, cuts)))
    return master, cores, keys


def column_with(rng: Random, format: CoreFormat, cut: int) -> frozenset[int]:
    others = [d for d in format.depth_values if d != cut and (d - cut) % format.step == 0]
    return frozenset({cut, *rng.sample(others, min(len(others), rng.choice([0, 1, 1, 1, 2])))})


# What follows is the model of the docstrings, written out from the side that makes cores.


def sets_of(format: CoreFormat, size: int, master: int | None = None) -> Sets:
    """All sets of cuts of one series, with the master's cut if there is one."""
    found = {
        frozenset(chosen)
        for chosen in combinations(format.depth_values, size)
        if len({cut % format.step for cut in chosen}) == 1 and (master is None or master in chosen)
    }
    return sorted(found, key=sorted)


@cache
def of_any_system(format: CoreFormat, seen: frozenset[int]) -> float:
    if len(seen) == len(format.depths):
        return 1.0
    alike = sets_of(format, len(seen))
    if seen in alike:
        return 1 / len(alike)
    return 1 / len(list(combinations(format.depth_values, len(seen))))


@cache
def of_this_system(format: CoreFormat, seen: frozenset[int], master: int) -> float:
    if len(seen) == len(format.depths):
        return 1.0
    meant = sets_of(format, len(seen), master)
    well = sum(each == seen for each in meant) / len(meant) if meant else 0.0
    slipped = 0.0
    for each in meant:
        for cut, by in product(each, (-1, 1)):
            slipped += ((each - {cut}) | {cut + by} == seen) / (2 * len(each) * len(meant))
    return 0.97 * well + 0.03 * (0.5 * slipped + 0.5 * of_any_system(format, seen))


def of_core(format: CoreFormat, core: SeenCore, master: tuple[int, ...]) -> tuple[float, float]:
    ours, others = 0.9, 0.1
    for (seen,), cut in zip(core.columns, master, strict=True):
        ours *= of_this_system(format, seen, cut)
        others *= of_any_system(format, seen)
    return ours, others


def of_key(key: CircularKey, cores: list[SeenCore], master: tuple[int, ...]) -> float:
    turned = [
        core for core in cores if all(cut in core.columns[n][0] for n, cut in enumerate(key.bitting.cuts))
    ]
    if not turned:
        return 1.0
    first = second = 1.0
    for n, (cut, own) in enumerate(zip(key.bitting.cuts, master, strict=True)):
        if len(turned) == 1 and len(turned[0].columns[n][0]) > 1:
            first *= 0.03 if cut == own else 0.97
            second *= 0.5
        elif len(turned) > 1:
            first *= 1.0 if cut == own else 0.03
            second *= 0.5 if len(frozenset.intersection(*(core.columns[n][0] for core in turned))) > 1 else 1
    return 0.7 * first + 0.3 * second if len(turned) == 1 else 0.3 * first + 0.7 * second


def of_usage(format: CoreFormat, members: list[SeenCore], master: tuple[int, ...]) -> float:
    urns, kept = 1.0, [0.2, 0.1, 0.2, 0.1, 0.4]
    for n, own in enumerate(master):
        array = [d for d in format.depth_values if d != own and (d - own) % format.step == 0]
        drawn: list[int] = []
        for core in members:
            seen = core.columns[n][0]
            if own in seen and len(seen) < len(format.depths):
                drawn += sorted(seen & set(array))
        for k, cut in enumerate(drawn):
            urns *= (drawn[:k].count(cut) + 0.25) / (k + 0.25 * len(array)) * len(array)
        many = len(members) >= 6
        used = {cut for cut, count in Counter(drawn).items() if count > many}
        above = [cut for cut in array if cut > own] + [cut for cut in array if cut < own]
        ways = len(list(combinations(array, len(used))))
        for habit, order in enumerate([array, array[::-1], above, above[::-1]]):
            kept[habit] *= 0.9 * ways * (set(order[: len(used)]) == used) + 0.1
    return urns * sum(kept)


def referee(
    format: CoreFormat, cores: list[SeenCore], keys: list[CircularKey]
) -> dict[tuple[int, ...], float]:
    chances = {}
    for master in product(format.depth_values, repeat=format.positions):
        if format.macs is not None and any(abs(a - b) > format.macs for a, b in pairwise(master)):
            continue
        pairs = [of_core(format, core, master) for core in cores]
        members = [core for core, (ours, others) in zip(cores, pairs, strict=True) if ours >= others]
        total = sum(log(ours + others) for ours, others in pairs)
        total += sum(log(of_key(key, cores, master)) for key in keys)
        chances[master] = total + log(of_usage(format, members, master))
    best = max(chances.values())
    weights = {master: exp(chance - best) for master, chance in chances.items()}
    return {master: weight / sum(weights.values()) for master, weight in weights.items()}


def test_the_chances_are_those_of_asking_every_bitting() -> None:
    rng = Random(41)
    compared = 0
    for _ in range(600):
        format = small_format(rng)
        _, cores, keys = sampled(rng, format)
        expected = referee(format, cores, keys)
        found = reconstruct(format, cores, keys)
        assert found.is_complete
        for master, share in expected.items():
            assert isclose(found.shares.get(master, 0.0), share, abs_tol=2e-4), (format, master)
            compared += 1
        assert expected[found.best] >= max(expected.values()) - 2e-4
    assert compared > 25_000


A2 = load("small-a2-6")
TOP, CONTROL = "361492", "743810"
CHANGES = ["583614", "705278", "927830", "149056", "583678", "705214"]


def decoded(texts: list[str], *, top: str = TOP, control: str = CONTROL, name: str = "C") -> list[SeenCore]:
    pinned = [pin(A2, [text, top], control) for text in texts]
    return [seen_reading(f"{name}{n}", read_stacks(A2, core)) for n, core in enumerate(pinned, 1)]


def found_in(cores: list[SeenCore], **keys: str) -> Reconstruction:
    return reconstruct(A2, cores, [CircularKey(name, parse_bitting(A2, text)) for name, text in keys.items()])


def test_a_small_system_is_read_off_its_cores() -> None:
    found = found_in(decoded(CHANGES))
    best = found.candidates[0]
    assert (best.bitting.text, len(best.turns), best.fails) == (TOP, 6, ())
    assert best.share > 0.99
    assert found.control is not None
    assert found.control.bitting == parse_bitting(A2, CONTROL)
    assert found.odd == ()
    assert next((c.seen, c.unseen, c.off_step) for c in found.array) == ((1, 5, 7, 9), (), ())


def test_one_core_leaves_each_of_its_keys_alike_unless_a_change_key_is_known() -> None:
    found = found_in(decoded(CHANGES[1:2]))
    assert len([share for share in found.shares.values() if share > 0.001]) == 2**6
    assert 5 < found.entropy_bits < 7
    known = found_in(decoded(CHANGES[1:2]), own=CHANGES[1])
    assert known.candidates[0].bitting.text == TOP
    assert known.candidates[0].share > 0.5
    assert known.key_parts == (("own", ("C1",), "change"),)


def test_the_known_change_key_of_a_core_tells_the_same() -> None:
    [core] = decoded(CHANGES[1:2])
    told = SeenCore(core.name, core.columns, core.control, parse_bitting(A2, CHANGES[1]))
    assert reconstruct(A2, [told]).candidates[0].bitting.text == TOP


def test_a_key_that_turns_every_core_is_a_candidate_itself() -> None:
    alike = ["705278", "705276", "705270"]  # five positions hold the same two cuts in all three
    open_now = found_in(decoded(alike))
    settled = found_in(decoded(alike), found_key=TOP)
    assert settled.shares[parse_bitting(A2, TOP).cuts] > 5 * open_now.shares[parse_bitting(A2, TOP).cuts]
    assert settled.key_parts[0][2] == "top"


def test_odd_cores_are_told_with_their_reason() -> None:
    cores = decoded(CHANGES)
    misread = [*cores[0].columns]
    misread[2] = (frozenset({2, 3}),)  # the 1 of the master, read as 2
    cores[0] = SeenCore("slip", tuple(misread), cores[0].control)
    cores += decoded(["058101"], top="290743", control="612399", name="other")
    cores += decoded(["058147"], top="258147", name="alone")
    found = found_in(cores)
    assert found.candidates[0].bitting.text == TOP
    assert [(odd.core, odd.reason) for odd in found.odd] == [
        ("slip", "misread"),
        ("other1", "foreign"),
        ("alone1", "single"),
    ]
    assert found.odd[0].positions == (3,)
    assert found.control is not None
    assert found.control.against == ("other1",)


def test_doubtful_pins_count_as_several_readings() -> None:
    pinned = pin(A2, [CHANGES[0], TOP], CONTROL)
    reading = read_stacks(A2, [_stack(stack, spoiled=stack.position == 4) for stack in pinned.stacks])
    assert reading.doubts
    core = seen_reading("doubtful", reading)
    assert len(core.columns[3]) > 1
    found = found_in([core, *decoded(CHANGES[1:])])
    assert found.candidates[0].bitting.text == TOP


def _stack(stack: Any, *, spoiled: bool) -> dict[str, Any]:
    """The bottom pin one size too long, so that the stack adds up to one too much."""
    return {
        "position": stack.position,
        "bottom": stack.bottom + spoiled,
        "masters": list(stack.masters),
        "control": stack.control,
        "top": stack.top,
    }


def test_a_position_without_pins_says_nothing() -> None:
    cores = [
        seen_reading(text, read_stacks(A2, pin(A2, [f"{text[:5]}-", "36149-"], "74381-"))) for text in CHANGES
    ]
    found = reconstruct(A2, cores)
    assert found.candidates[0].bitting.text[:5] == "36149"
    assert len({cuts[5] for cuts in found.shares if found.shares[cuts] > 0.01}) == 10


def test_no_cores_are_refused_and_so_is_evidence_that_says_nothing() -> None:
    with pytest.raises(Refused) as none:
        reconstruct(A2, [])
    assert none.value.refusals[0].code == "no_cores"
    empty = SeenCore("empty", ((frozenset(range(10)),),) * 6)
    with pytest.raises(Refused) as too_many:
        reconstruct(A2, [empty])
    assert too_many.value.refusals[0].code == "too_large"


def test_nothing_secret_is_shown_when_a_value_is_printed_by_accident() -> None:
    found = found_in(decoded(CHANGES), K=CHANGES[0])
    for thing in (found, found.candidates[0], found.array[0], found.control, found.cores[0], found.keys[0]):
        assert "361492" not in repr(thing)
        assert "583614" not in repr(thing)
        assert "frozenset" not in repr(thing)
