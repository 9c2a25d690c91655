"""Cores on bench sheets: heading, code and stacks as blocks that are set without a page setter's tables."""

from collections.abc import Sequence

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.lib.language import Text
from keyctl.prints.paper import paper
from keyctl.prints.press.blocks import Block, Boxes, Column, Grid, Words, rows_of
from keyctl.prints.press.codes import code_of
from keyctl.prints.sheets.stacks import CoreOnSheet

WITH_CONTROL = (
    *(
        Column(gettext_lazy("Position"), 11),
        Column(gettext_lazy("Bottom"), 10),
        Column(gettext_lazy("Masters"), 22),
    ),
    *(
        Column(gettext_lazy("Control"), 13),
        Column(gettext_lazy("Top"), 13),
        Column(gettext_lazy("Total"), 10),
    ),
)
WITHOUT_CONTROL = WITH_CONTROL[:3] + WITH_CONTROL[4:]
TO_TICK = (
    gettext_lazy("Built"),
    gettext_lazy("Own key turns"),
    gettext_lazy("Control key"),
    gettext_lazy("A strange key does not turn"),
)


def core_block(core: CoreOnSheet, ticks: Sequence[Text] = (), above: Sequence[Words] = ()) -> Block:
    columns = WITH_CONTROL if core.has_control else WITHOUT_CONTROL
    grid = Grid(columns, rows_of(columns, map(core.cells, core.stacks)), size=8.5)
    level = "H3" if ticks else "H2"
    note = _("{format}. Position 1 is at the {end}.").format(format=core.format_name, end=core.starts_at)
    words = (
        Words(core.tag, 12, is_bold=True, tag=level),
        Words(note, 7),
        Words(_("Load from left to right, the bottom pin first."), 7),
    )
    boxes = (Boxes(tuple(map(str, ticks))).fitting(paper().body_width),) if ticks else ()
    return Block(
        (*above, *words, grid, *boxes),
        code_of(core.address, _("Code of the core {core}").format(core=core.tag)),
    )
