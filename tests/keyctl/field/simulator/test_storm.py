"""A small storm over HTTP; `python -m tests.bench field` plays the large one."""

from typing import Protocol

import pytest

from tests.keyctl.field.simulator.server import DUPLICATE
from tests.keyctl.field.simulator.storm import Storm


class LiveServer(Protocol):
    url: str


@pytest.mark.django_db(transaction=True)
def test_a_storm_of_tablets_loses_and_doubles_nothing(live_server: LiveServer) -> None:
    storm = Storm(tablets=3, facts_each=20)
    storm.break_out(live_server.url)
    assert storm.check()[DUPLICATE] > 0
