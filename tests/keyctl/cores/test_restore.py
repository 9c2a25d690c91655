"""What is sealed of a core's pins comes back as it was, also where no pins stand."""

import json
from random import Random

import pytest

from keyctl import engine
from keyctl.lib.errors import Refused
from tests.pinning import cases

FORMATS = [format_id for format_id, _ in engine.format_names()]


@pytest.mark.parametrize("format_id", FORMATS)
def test_any_pins_come_back(format_id: str) -> None:
    rng = Random(format_id)
    for _ in range(50):
        core = cases.random_core(rng, engine.load_format(format_id))
        assert engine.restore(format_id, engine.dump(core)) == core


def test_stacks_written_in_the_documented_shape_are_read_too() -> None:
    core = engine.pin("fixed-6", ["333333"], None)
    rows = [{"total": None, **row} for row in json.loads(engine.dump(core))]
    assert engine.restore("fixed-6", json.dumps(rows)) == core


def test_what_is_no_pinning_is_refused() -> None:
    with pytest.raises(Refused):
        engine.restore("fixed-6", json.dumps([{"position": 1}]))
