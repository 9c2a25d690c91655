"""After 400 days the words go; what tells a repeat stays, so that nothing is ever done twice."""

from datetime import timedelta

from django.utils import timezone

from keyctl.cores.models import Core
from keyctl.cores.services import Whereabouts
from keyctl.field import services
from keyctl.field.forgetting import forget_events
from keyctl.field.models import FieldEvent, ReconcileCase, RejectedEvent
from tests.cast import Cast
from tests.keyctl.field.fieldroom import House, Tablet, outcomes

LATER = timedelta(days=401)


def test_a_late_repeat_is_known_without_its_words(house: House, tablet: Tablet) -> None:
    event, bad = tablet.put(house.spare, "bench"), {"event_id": "bad"}
    tablet.send(event, bad)
    assert forget_events(timezone.now() + timedelta(days=399)).endswith(": 0.")
    assert forget_events(timezone.now() + LATER).endswith(": 2.")

    kept = FieldEvent.objects.get()
    assert (kept.body, bool(kept.forgotten_at), kept.outcome) == ({}, True, "applied")
    assert RejectedEvent.objects.get().text == ""
    assert outcomes(tablet.send(event, event | {"sequence": 9}, bad)) == [
        "duplicate",
        "rejected",
        "rejected",
    ]
    assert Core.objects.get(pk=house.spare.pk).version == house.spare.version + 1
    assert forget_events(timezone.now() + LATER).endswith(": 1.")


def test_what_stands_in_an_open_case_or_waits_is_kept(cast: Cast, house: House, tablet: Tablet) -> None:
    tablet.send(tablet.put(house.spare, core_version=9))
    assert tablet.device
    tablet.device = services.withdraw_device(actor=cast.locksmith, device=tablet.device, reason="Lost")
    tablet.send(tablet.put(house.spare))
    assert forget_events(timezone.now() + LATER).endswith(": 0.")

    case = ReconcileCase.objects.get()
    shelf = {house.spare: Whereabouts("shelf")}
    services.settle_case(actor=cast.locksmith, case=case, places=shelf, note="Looked")
    assert forget_events(timezone.now() + LATER).endswith(": 1.")
    assert case.stories.get().says.startswith("put core")
