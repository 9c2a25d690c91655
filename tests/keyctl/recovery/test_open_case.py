import pytest
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, transaction

from keyctl.audit.selectors import history_of
from keyctl.lib.errors import Conflict, Refused
from keyctl.recovery import services
from keyctl.recovery.models import ControlKeyCase
from tests.cast import Cast
from tests.keyctl.recovery.loss import NOTE, Loss, set_up


@pytest.mark.parametrize(
    ("format_id", "way"),
    [
        ("small-a2-7", "decode"),
        ("large-sleeve-34", "decode"),
        ("large-sleeve-2345", "decode"),
        ("full-tip-6", "copy-to-blank"),
        ("padlock-screw-6", "open-shackle"),
        ("fixed-6", "none"),
    ],
)
def test_the_construction_says_the_way(cast: Cast, format_id: str, way: str) -> None:
    assert set_up(cast, format_id).case().way == way


def test_history_says_that_the_officer_was_told(loss: Loss) -> None:
    event = history_of(loss.case())[0]
    assert event.verb == "control_key.lost"
    assert "the security officer was told" in event.sentence
    assert event.detail["note"] == NOTE


def test_it_refuses_before_the_officer_was_told(loss: Loss) -> None:
    with pytest.raises(Refused, match="Tell the security officer first"):
        services.open_case(
            actor=loss.smith, site=loss.site, system=loss.system, note=NOTE, officer_told=False
        )


def test_it_refuses_a_second_open_case(loss: Loss) -> None:
    loss.case()
    with pytest.raises(Conflict, match="Locksmith has a case open"):
        loss.case()


def test_the_database_itself_keeps_one_case_open(loss: Loss) -> None:
    first = loss.case()
    with pytest.raises(IntegrityError), transaction.atomic():
        ControlKeyCase.objects.create(
            site=first.site, system=first.system, way=first.way, note=NOTE, opened_by=loss.smith
        )


def test_it_refuses_a_system_of_another_site(loss: Loss) -> None:
    with pytest.raises(Refused, match="is not used at"):
        services.open_case(
            actor=loss.cast.stranger, site=loss.cast.south, system=loss.system, note=NOTE, officer_told=True
        )


def test_it_refuses_words_that_look_like_cuts(loss: Loss) -> None:
    with pytest.raises(Refused, match="may be read as the cuts"):
        services.open_case(
            actor=loss.smith,
            site=loss.site,
            system=loss.system,
            note="It was 3-6-1-4-9-2-0.",
            officer_told=True,
        )


@pytest.mark.parametrize("role", ["desk", "manager", "officer", "auditor", "requester", "administrator"])
def test_only_a_locksmith_opens_a_case(loss: Loss, role: str) -> None:
    with pytest.raises(PermissionDenied):
        services.open_case(
            actor=loss.cast.everybody[role], site=loss.site, system=loss.system, note=NOTE, officer_told=True
        )
