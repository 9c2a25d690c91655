"""Key systems, their drafts, their versions, lists of others', lock charts."""

from typing import Any

from keyctl.charts.services import create_chart
from keyctl.inherited.services import bring_list
from keyctl.versions.services import take_version
from tests import factories
from tests.scenes.base import Base

OF_DRAFT = ("draft", "draft-change", "draft-discard", "draft-make")
OF_LIST = ("detail", "columns", "check", "write", "leave")
OF_CHART = ("detail", "draw", "table", "mark", "accept", "rules", "solve", "make")
RECONSTRUCTION = ("reconstruct", "found", "make")


def routes(base: Base) -> dict[str, Any]:
    cast, system = base.cast, base.system
    draft = factories.make_draft(cast.north, actor=cast.locksmith)
    version = take_version(actor=cast.locksmith, system=system, why="Before the works")
    chart = create_chart(actor=cast.locksmith, site=cast.north, name="House", format_id="fixed-6", keyway="W")
    bittings = bring_list(
        actor=cast.locksmith, site=cast.north, name="list.csv", content=b"AB9,0000000", system=system
    )
    return {
        "systems:detail": system.pk,
        "systems:children": factories.symbol(system, "A").pk,
        "systems:capacity": system.pk,
        "systems:extend": system.symbols.get(level=0).pk,
        "versions:list": system.pk,
        "versions:take": system.pk,
        "versions:compare": version.pk,
        "prints:system": system.pk,
        **{f"systems:{name}": draft.pk for name in OF_DRAFT},
        **{f"inherited:{name}": bittings.pk for name in OF_LIST},
        **{f"inherited:{name}": cast.north.pk for name in RECONSTRUCTION},
        **{f"charts:{name}": chart.pk for name in OF_CHART},
    }
