"""What a cabinet's own page says of its counts: a handover that is not done, a count that is due or runs."""

from collections.abc import Mapping, Sequence
from uuid import UUID

from django.urls import reverse
from django.utils.translation import gettext as _

from keyctl.counts.models import CabinetHandover, Count
from keyctl.keys.cabinet_marks import Mark
from keyctl.keys.models import Cabinet
from keyctl.lib.days import day


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
        return Mark(
            _("Being counted"), _("{counter} is counting this cabinet.").format(counter=count.counter), url
        )
    return Mark(
        _("Count due"),
        _("This cabinet is to be counted by {due_on}.").format(due_on=day(count.due_on)),
        url,
    )


def _of_handover(handover: CabinetHandover) -> Mark:
    count, to = handover.count, handover.taker or _("nobody")
    words = (
        _("This cabinet passes to {to}, and it is not signed by both yet.")
        if count.state == Count.State.CLOSED
        else _("This cabinet passes to {to}, and it is to be counted first.")
    )
    blocks = count.rule and count.rule.blocks_issuing
    sentence = words.format(to=to) + (" " + _("Nothing is handed out from it until then.") if blocks else "")
    return Mark(_("Count due"), sentence, reverse("counts:handover", args=[handover.pk]))
