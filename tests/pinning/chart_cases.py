"""Random small formats and charts in the documented shape."""

from __future__ import annotations

from random import Random
from typing import Any

from pinning.charts import Chart
from pinning.formats import CoreFormat
from tests.pinning import cases

Json = dict[str, Any]
MOST_TRIED = 20_000  # combinations of bittings, the control key's too


def small_mapping(rng: Random) -> Json:
    """A format of up to three positions of which every key can be listed quickly."""
    while True:
        mapping = cases.random_mapping(rng)
        if mapping["positions"] <= 3 and len(mapping["depths"]) ** mapping["positions"] <= 30:
            return mapping


def random_chart(rng: Random, format: CoreFormat) -> Json:
    words = len(format.depths) ** format.positions
    fitting = [keys for keys in (1, 2, 3) if words ** (keys + bool(format.sleeve)) <= MOST_TRIED]
    keys = [f"K{number}" for number in range(rng.randint(1, max(fitting, default=1)))]
    locks = [_random_lock(rng, keys, number) for number in range(rng.randint(1, 4))]
    chart: Json = {"keys": [{"id": key} for key in keys], "locks": locks}
    for key in chart["keys"]:
        if rng.random() < 0.2:
            key["bitting"] = cases.random_text(rng, format)
    if rng.random() < 0.4:
        chart["rules"] = _random_rules(rng)
    if format.sleeve and rng.random() < 0.2:
        chart["control"] = cases.random_text(rng, format)
    return chart


def _random_lock(rng: Random, keys: list[str], number: int) -> Json:
    opens = rng.sample(keys, rng.randint(1, len(keys)))
    others = [key for key in keys if key not in opens and rng.random() < 0.25]
    return {"id": f"L{number}", "opens": opens, "may": others}


def _random_rules(rng: Random) -> Json:
    rules: Json = {
        "max_cuts": rng.randint(1, 2),
        "min_differences": rng.randint(1, 2),
        "distinct": rng.random() < 0.5,
        "macs": rng.randint(1, 3),
        "max_equal": rng.randint(1, 2),
        "max_run": rng.randint(1, 2),
        "min_distinct": rng.randint(1, 3),
        "min_span": rng.randint(0, 3),
    }
    return {name: rule for name, rule in rules.items() if rng.random() < 0.25}


def as_json(chart: Chart) -> Json:
    """A chart as the form takes it."""
    format, rules = chart.format, chart.rules
    symbols = {key: "".join(map(format.symbol_of, cuts)) for key, cuts in chart.fixed.items()}
    locks = zip(chart.locks, chart.opens, chart.may, strict=True)
    own = {
        name: getattr(rules.keys, name)
        for name in ("macs", "max_equal", "max_run", "min_distinct", "min_span")
    }
    given = {
        "max_cuts": rules.max_cuts,
        "min_differences": rules.min_differences,
        "distinct": rules.distinct,
        **own,
    }
    return {
        "keys": [
            {"id": name} | ({"bitting": symbols[key]} if key in symbols else {})
            for key, name in enumerate(chart.keys)
        ],
        "locks": [
            {
                "id": name,
                "opens": [chart.keys[key] for key in opens],
                "may": [chart.keys[key] for key in sorted(may)],
            }
            for name, opens, may in locks
        ],
        "rules": {name: rule for name, rule in given.items() if rule is not None},
        "control": "".join(map(format.symbol_of, chart.control)) if chart.control else None,
    }
