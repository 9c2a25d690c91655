"""The batch sheet: kit by kit what to take from the bins, then core by core as they are built."""

import re

import pytest
from django.core.exceptions import PermissionDenied
from django.utils import translation

from keyctl.audit.selectors import history_of
from keyctl.cores.turning import pins_of
from keyctl.lib.errors import Refused
from keyctl.orders.sequence import bench_sequence
from keyctl.prints.paper import paper
from keyctl.prints.press.blocks import Boxes, Grid, Words
from keyctl.prints.sheets.batches import compose_batch_sheet
from keyctl.stock.models import PinBin
from keyctl.stock.services import stock_kit
from tests.keyctl.orders.workshop import Workshop
from tests.keyctl.prints.reading import faults_of
from tests.keyctl.prints.test_pinning_sheet import pinned_order, rows_of, text_of
from tests.signing import proven


def test_it_tells_what_to_take_from_each_bin_and_every_stack_in_sequence(shop: Workshop) -> None:
    order = pinned_order(shop, *(shop.core(pinned=False, nth=nth) for nth in (0, 1)))
    cores = [line.core for line in bench_sequence(order) if line.core]
    stock_kit(actor=shop.smith, site=shop.site, format=pins_of(cores[0]).format, each=50)
    document = compose_batch_sheet(actor=shop.smith, sign_in=proven(shop.smith), order=order).pdf()
    assert faults_of(document) == []
    text = text_of(document)
    stacks = [stack for core in cores for stack in pins_of(core).stacks]
    assert rows_of(text) == [
        [stack.position, stack.bottom, *stack.masters, stack.control, stack.top, stack.total]
        for stack in stacks
    ]
    taken = re.findall(r"^(Bottom|Master|Control|Top) [a-z]+, size (\d+) (\d+) 50$", text, re.MULTILINE)
    counted: dict[tuple[str, int], int] = {}
    for stack in stacks:
        for role, size in stack.pins:
            counted[role, size] = counted.get((role, size), 0) + 1
    assert {(role.lower(), int(size)): int(number) for role, size, number in taken} == counted
    assert PinBin.objects.filter(count=50).exists()


def test_nothing_on_it_is_wider_than_its_page_in_german(shop: Workshop) -> None:
    with translation.override("de"):
        composed = compose_batch_sheet(actor=shop.smith, sign_in=proven(shop.smith), order=pinned_order(shop))
    parts = [part for area in composed.areas for block in area.blocks for part in block.parts]
    widths = {type(part): part.width for part in parts if not isinstance(part, Words)}
    assert widths.keys() == {Boxes, Grid}
    assert max(widths.values()) < paper().body_width + 0.01


def test_history_knows_of_the_print_and_of_each_core(shop: Workshop) -> None:
    order = pinned_order(shop)
    compose_batch_sheet(actor=shop.smith, sign_in=proven(shop.smith), order=order)
    assert history_of(order)[0].sentence == f"printed the batch sheet of order {order.number}: 1 core"
    core = order.lines.get().core
    assert core
    assert history_of(core)[0].verb == "core.pinning_shown"


def test_a_core_that_waits_is_named_without_pins(shop: Workshop) -> None:
    order = pinned_order(shop)
    with pytest.raises(Refused, match="No core of"):
        compose_batch_sheet(actor=shop.smith, sign_in=proven(shop.smith), order=shop.pin_order())
    with pytest.raises(PermissionDenied):
        compose_batch_sheet(actor=shop.cast.officer, sign_in=proven(shop.cast.officer), order=order)
