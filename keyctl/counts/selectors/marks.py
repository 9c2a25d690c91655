"""What a cabinet's own page says of its counts: a handover that is not done, a count that is due or runs."""

from collections.abc import Mapping, Sequence
from uuid import UUID

from django.urls import reverse

from keyctl.counts.models import CabinetHandover, Count
from keyctl.keys.cabinet_marks import Mark
from keyctl.keys.models import Cabinet


def marks_of_counts(cabinets: Sequence[Cabinet]) -> Mapping[UUID, Mark]:
    """A handover outweighs the count that it waits for."""
    found = {count.cabinet_id: _of_count(count) for count in _open_counts(cabinets)}
    found |= {each.cabinet_id: _of_handover(each) for each in _open_handovers(cabinets)}
    return {pk: mark for pk, mark in found.items() if pk}


def _open_counts(cabinets: Sequence[Cabinet]) -> list[Count]:
    return list(Count.objects.filter(cabinet__in=cabinets).open().select_related("counter"))


def _open_handovers(cabinets: Sequence[Cabinet]) -> list[CabinetHandover]:
    waiting = CabinetHandover.objects.filter(cabinet__in=cabinets, done_at__isnull=True)
    return list(waiting.select_related("count__rule", "taker").order_by("made_at"))


def _of_count(count: Count) -> Mark:
    url = reverse("counts:detail", args=[count.pk])
    if count.state == Count.State.RUNNING:
        return Mark("Being counted", f"{count.counter} is counting this cabinet.", url)
    return Mark("Count due", f"This cabinet is to be counted by {count.due_on:%-d %b %Y}.", url)


def _of_handover(handover: CabinetHandover) -> Mark:
    count, to = handover.count, handover.taker or "nobody"
    what = (
        "it is not signed by both yet" if count.state == Count.State.CLOSED else "it is to be counted first"
    )
    rest = " Nothing is handed out from it until then." if count.rule and count.rule.blocks_issuing else ""
    sentence = f"This cabinet passes to {to}, and {what}.{rest}"
    return Mark("Count due", sentence, reverse("counts:handover", args=[handover.pk]))
