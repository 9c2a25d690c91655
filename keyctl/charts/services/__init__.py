from keyctl.charts.services.drawing import (
    accept_pairs,
    add_to_chart,
    create_chart,
    mark_pairs,
    set_rules,
    take_over_table,
)
from keyctl.charts.services.starting import start_making, start_solving

__all__ = [
    "accept_pairs",
    "add_to_chart",
    "create_chart",
    "mark_pairs",
    "set_rules",
    "start_making",
    "start_solving",
    "take_over_table",
]
