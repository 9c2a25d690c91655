"""Retiring a format: nothing new by it, everything old goes on."""

import pytest
from django.core.exceptions import PermissionDenied

from keyctl import engine
from keyctl.audit.selectors import history_of
from keyctl.formats.selectors import offered_formats
from keyctl.formats.services import retire_format
from keyctl.lib.errors import Conflict
from tests.cast import Cast
from tests.keyctl.formats.shop import make


def test_it_is_offered_no_more_and_still_loads(cast: Cast) -> None:
    made = make(cast.administrator, "own-one")
    retire_format(actor=cast.administrator, shop_format=made)
    assert "own-one" not in dict(offered_formats())
    assert engine.load_format("own-one").positions == 5


def test_it_is_written_down(cast: Cast) -> None:
    made = make(cast.administrator, "own-one", name="Own one")
    retire_format(actor=cast.administrator, shop_format=made)
    assert history_of(made)[0].sentence == "retired the core format Own one (own-one)"


def test_its_name_may_be_used_again(cast: Cast) -> None:
    retire_format(actor=cast.administrator, shop_format=make(cast.administrator, "own-one", name="Own"))
    assert make(cast.administrator, "own-two", name="Own").retired_at is None


def test_it_refuses_a_second_time(cast: Cast) -> None:
    made = make(cast.administrator, "own-one")
    retire_format(actor=cast.administrator, shop_format=made)
    with pytest.raises(Conflict, match="retired already"):
        retire_format(actor=cast.administrator, shop_format=made)


@pytest.mark.parametrize("who", ["locksmith", "stranger", "auditor"])
def test_only_an_administrator_retires_one(cast: Cast, who: str) -> None:
    made = make(cast.administrator, "own-one")
    with pytest.raises(PermissionDenied):
        retire_format(actor=cast.everybody[who], shop_format=made)
