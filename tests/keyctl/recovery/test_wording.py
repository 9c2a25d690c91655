"""Words that may hold the cuts of a key."""

import pytest

from keyctl.lib.errors import Refused
from keyctl.recovery.services.wording import refuse_cuts


@pytest.mark.parametrize("text", ["361492", "it was 3 6 1 4 9 2.", "3-6-1-4-9-2", "key 3,6,1,4,9,2 lost"])
def test_it_refuses_as_many_depths_as_the_format_has_positions(text: str) -> None:
    with pytest.raises(Refused, match="Leave it out"):
        refuse_cuts(text, "small-a2-6")


@pytest.mark.parametrize(
    "text", ["on 2024-11-25", "ring 36149", "order 3614920", "AB361492", "called 555 0100 twice", "door 101"]
)
def test_other_numbers_pass(text: str) -> None:
    refuse_cuts(text, "small-a2-6")


def test_figures_that_the_format_has_no_depth_for_pass() -> None:
    refuse_cuts("678967", "small-a4-6")
