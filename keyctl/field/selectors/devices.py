"""What a tablet told, and what of its numbers is missing."""

from dataclasses import dataclass

from django.db.models import Count, QuerySet

from keyctl.field.models import Device, FieldEvent, RejectedEvent

MOST_GAPS = 20


@dataclass(frozen=True)
class Gap:
    """Numbers that the tablet gave and that never arrived."""

    first: int
    last: int

    def __str__(self) -> str:
        return str(self.first) if self.first == self.last else f"{self.first} to {self.last}"


def told_by(device: Device) -> QuerySet[FieldEvent]:
    told = device.events.select_related("person", "sender", "case", "device")
    return told.order_by("-sequence", "-received_at")


def gaps_of(device: Device) -> list[Gap]:
    """The first few; what is still on the tablet lies beyond the last that arrived and is no gap."""
    gaps: list[Gap] = []
    expected = 1
    for number in _numbers(device):
        if number > expected:
            gaps.append(Gap(expected, number - 1))
        expected = number + 1
    return gaps[:MOST_GAPS]


def used_twice(device: Device) -> list[int]:
    """A tablet that was wiped may give a number again: both are facts, and whoever looks should know."""
    rows = FieldEvent.objects.filter(device=device).order_by("sequence").values("sequence")
    counted = rows.annotate(times=Count("pk")).filter(times__gt=1)
    return list(counted.values_list("sequence", flat=True)[:MOST_GAPS])


def _numbers(device: Device) -> list[int]:
    told = FieldEvent.objects.filter(device=device).values_list("sequence", flat=True)
    rejected = RejectedEvent.objects.filter(device=device, sequence__isnull=False)
    return sorted({*told, *(number for number in rejected.values_list("sequence", flat=True) if number)})
