"""The receipt of an act goes to who took the keys, or to each who is rid of some."""

from django.urls import reverse

from keyctl.desk.addressing import address_of
from keyctl.keys.models import Custody, Handover, Holder
from keyctl.notices.services import send_notice

# The paper itself is made by the prints when the mail goes out.
RECEIPT = "receipt"


def mail_receipt(act: Handover) -> None:
    """Serials only: a mail that a stranger reads must not tell which door a key is for."""
    if act.way != Handover.Way.BACK:
        _mail(act, act.holder, list(act.lines_out.select_related("copy")), "desk/receipt", with_paper=True)
    for holder, lines in _givers(act).items():
        _mail(
            act, holder, lines, "desk/returned", with_paper=act.way == Handover.Way.BACK and bool(act.holder)
        )


def _givers(act: Handover) -> dict[Holder, list[Custody]]:
    """Whose keys ended with this act, each with their own lines: nobody reads of another's keys."""
    found: dict[Holder, list[Custody]] = {}
    for line in act.lines_back.select_related("copy", "holder__user", "holder__person"):
        found.setdefault(line.holder, []).append(line)
    return found


def _mail(
    act: Handover, holder: Holder | None, lines: list[Custody], template: str, *, with_paper: bool
) -> None:
    if holder is None or not lines:
        return
    send_notice(
        to=address_of(holder),
        name=holder.name,
        kind=template.replace("/", "."),
        template=template,
        facts={
            "act": act,
            "holder": holder,
            "lines": lines,
            "path": reverse("keys:holder", args=[holder.pk]),
        },
        site=act.site,
        about=[act, holder],
        attachment=(RECEIPT, act.pk) if with_paper else None,
    )
