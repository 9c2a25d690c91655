"""Which formats share pins follows from their figures; a core's pins are counted by role and size."""

from collections import Counter
from dataclasses import replace

import pytest

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.formats.models import ShopFormat
from keyctl.stock.families import Family, families, family_id, family_of, pins_in, sizes_of


def known(format_id: str) -> engine.CoreFormat:
    return engine.load_format(format_id)


def test_lengths_of_one_system_share_their_pins() -> None:
    assert len({family_id(known(f"small-a2-{positions}")) for positions in (5, 6, 7)}) == 1


def test_systems_with_other_pins_stand_apart() -> None:
    formats = ["small-a2-6", "small-a3-6", "small-a4-6", "fixed-6"]
    assert len({family_id(known(format_id)) for format_id in formats}) == len(formats)


@pytest.mark.parametrize(
    "figure",
    [
        {"construction": "large-format"},
        {"increment_in": 0.0126},
        {"base_pin_in": 0.111},
        {"depth_values": tuple(range(1, 11))},
    ],
)
def test_one_other_figure_makes_another_pin(figure: dict[str, object]) -> None:
    a2 = known("small-a2-6")
    assert family_id(replace(a2, **figure)) != family_id(a2)  # type: ignore[arg-type]


def test_one_size_more_makes_another_kit() -> None:
    a2 = known("small-a2-6")
    more = replace(a2, pins=replace(a2.pins, top=(*a2.pins.top, 20)))
    assert family_id(more) != family_id(a2)


def test_the_name_and_the_positions_make_no_difference() -> None:
    a2 = known("small-a2-6")
    assert family_id(replace(a2, id="other", name="Other", positions=4, order="bow-tip")) == family_id(a2)


@pytest.mark.django_db
def test_a_family_is_called_by_what_its_names_share() -> None:
    family = family_of(known("small-a2-6"))
    assert family.title == "Small-format core, A2 system"
    assert len(family.names) == 3


def test_names_that_share_nothing_go_by_the_first() -> None:
    a2 = known("small-a2-6")
    formats = (replace(a2, name="Workshop one, long"), replace(a2, name="Old stores, long"))
    assert Family("x", formats).title == "Workshop one, long and 1 more"


@pytest.mark.django_db
def test_a_shops_own_format_of_the_same_pins_joins_the_family() -> None:
    a2 = known("small-a2-6")
    maker = User.objects.create_user("maker", display_name="Maker", password="bench ledger lamp")
    parameters = engine.format_parameters(a2)
    shop = {"format_id": "shop-own", "name": "Shop's own core", "construction": a2.construction}
    ShopFormat.objects.create(parameters=parameters, made_by=maker, **shop)
    assert "Shop's own core" in families()[family_id(a2)].names


def test_control_pins_carry_the_shops_numbers() -> None:
    a4 = known("small-a4-6")
    assert a4.control is not None
    relative = replace(a4, control=replace(a4.control, numbering="relative"))
    # The sleeve of the A4 system adds 6 (trade manuals), so a control pin of 8 is written +2.
    assert Family("x", (relative,)).size_name("control", 8) == "+2"
    assert Family("x", (relative,)).size_name("master", 8) == "8"


def test_the_pins_of_a_core_are_counted_by_role_and_size() -> None:
    """By hand from the sleeve's addition of 10 and the total of 23 (A2: Keynotes 2024-10 p.55)."""
    pinned = engine.pin("small-a2-5", ["36149", "56149"], "74381")
    bottoms = [3, 6, 1, 4, 9]
    controls = [7 + 10 - 5, 4 + 10 - 6, 3 + 10 - 1, 8 + 10 - 4, 1 + 10 - 9]
    tops = [23 - 10 - 7, 23 - 10 - 4, 23 - 10 - 3, 23 - 10 - 8, 23 - 10 - 1]
    expected = Counter(("bottom", size) for size in bottoms) + Counter({("master", 2): 1})
    expected += Counter(("control", size) for size in controls) + Counter(("top", size) for size in tops)
    assert pins_in(pinned) == expected


def test_a_position_left_empty_takes_no_pins() -> None:
    full = engine.pin("small-a2-5", ["36149"], "74381")
    emptied = replace(full.stacks[0], bottom=0, masters=(), control=None, top=0)
    left = pins_in(replace(full, stacks=(emptied, *full.stacks[1:])))
    assert sum(left.values()) == sum(pins_in(full).values()) - 3


@pytest.mark.parametrize("format_id", [format_id for format_id, _ in engine.format_names()])
def test_a_kit_has_a_bin_for_each_size_of_each_role(format_id: str) -> None:
    kit = known(format_id).pins
    assert len(sizes_of(known(format_id))) == sum(
        len(kit.sizes(role)) for role in ("bottom", "master", "control", "top")
    )
