"""What the clerk must know of a key on the counter; some of it keeps the key from going."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from django.utils.translation import gettext as _

from keyctl.approvals.models import Grant, KeyRequest
from keyctl.desk.models import Tray, TrayLine
from keyctl.keys.models import Custody, Handover, KeyCopy
from keyctl.keys.reservations import set_aside

State = KeyCopy.State


@dataclass(frozen=True)
class Remark:
    """``blocks``: the act cannot be done with this key as it is."""

    words: str
    tone: str = "info"
    blocks: bool = False


@dataclass(frozen=True)
class LineView:
    line: TrayLine
    custody: Custody | None
    remarks: tuple[Remark, ...]

    @property
    def copy(self) -> KeyCopy:
        return self.line.copy

    @property
    def is_blocked(self) -> bool:
        return any(remark.blocks for remark in self.remarks)


def views_of(tray: Tray, lines: Sequence[TrayLine]) -> list[LineView]:
    """The lines as a page shows them, with the state of each key at this moment."""
    copies = [line.copy for line in lines]
    out = Custody.objects.filter(copy__in=copies, ended_at__isnull=True).select_related("holder", "out_act")
    custodies = {custody.copy_id: custody for custody in out}
    aside = _aside(lines) if tray.way == Handover.Way.OUT else {}
    wanted = _wanted(copies) if tray.way == Handover.Way.BACK else {}
    return [
        LineView(
            line,
            custodies.get(line.copy_id),
            tuple(_remarks(tray, line, custodies.get(line.copy_id), aside, wanted)),
        )
        for line in lines
    ]


def _remarks(
    tray: Tray,
    line: TrayLine,
    custody: Custody | None,
    aside: Mapping[UUID, str],
    wanted: Mapping[UUID, KeyRequest],
) -> Iterator[Remark]:
    if remark := _STATES[Handover.Way(tray.way)](tray, line.copy):
        yield remark
    if tray.way == Handover.Way.OUT and line.copy_id in aside:
        yield Remark(aside[line.copy_id], "bad", blocks=True)
    if line.request:
        yield Remark(_("Set aside for the {named}").format(named=_named(line.request)), "good")
    if line.copy.is_broken and tray.way != Handover.Way.BACK:
        yield Remark(
            _("{copy} is broken. Destroy it and take another copy.").format(copy=line.copy),
            "bad",
            blocks=True,
        )
    if custody and custody.is_overdue:
        yield Remark(_("Was due on {due_words}").format(due_words=custody.due_words), "warn")
    if request := wanted.get(line.copy.symbol_id):
        yield Remark(_("The {named} waits for this key").format(named=_named(request)), "info")


def _to_go_out(_tray: Tray, copy: KeyCopy) -> Remark | None:
    words = {
        State.HELD: _("{copy} is out with {holder}. Take it back first, or transfer it."),
        State.LOST: _("{copy} is reported lost. If this is the key, take it in as found."),
        State.DESTROYED: _("{copy} was destroyed. Look at the serial again."),
    }.get(State(copy.state))
    return _blocking(words, copy)


def _to_come_back(_tray: Tray, copy: KeyCopy) -> Remark | None:
    if copy.state == State.LOST:
        return Remark(_("Was reported lost; it is taken in as found"), "warn")
    words = {
        State.IN_CABINET: _("{copy} is not out: it belongs into {cabinet}."),
        State.DESTROYED: _("{copy} was destroyed. Look at the serial again."),
    }.get(State(copy.state))
    return _blocking(words, copy)


def _to_be_passed_on(tray: Tray, copy: KeyCopy) -> Remark | None:
    if copy.state == State.HELD and tray.holder_id and copy.holder_id == tray.holder_id:
        return Remark(
            _("{copy} is with {holder} already.").format(copy=copy, holder=copy.holder), "bad", blocks=True
        )
    words = {
        State.IN_CABINET: _("{copy} is with nobody: it is in {cabinet}. Hand it out instead."),
        State.LOST: _("{copy} is reported lost. Take it in as found first."),
        State.DESTROYED: _("{copy} was destroyed. Look at the serial again."),
    }.get(State(copy.state))
    return _blocking(words, copy)


def _blocking(words: str | None, copy: KeyCopy) -> Remark | None:
    if words is None:
        return None
    told = words.format(copy=copy, holder=copy.holder, cabinet=copy.cabinet)
    return Remark(told, "bad", blocks=True)


_STATES = {
    Handover.Way.OUT: _to_go_out,
    Handover.Way.BACK: _to_come_back,
    Handover.Way.TRANSFER: _to_be_passed_on,
}


def _aside(lines: Sequence[TrayLine]) -> dict[UUID, str]:
    """What is set aside for anything but the request that its own line is collected for."""
    requests = {line.request_id: line.request for line in lines}
    found: dict[UUID, str] = {}
    for pk, request in requests.items():
        copies = [line.copy for line in lines if line.request_id == pk]
        found |= set_aside(copies, request)
    return found


def _wanted(copies: Sequence[KeyCopy]) -> dict[UUID, KeyRequest]:
    """By key, an approved request that has no copy of it yet."""
    grants = Grant.objects.filter(
        symbol__in=[copy.symbol_id for copy in copies],
        copy__isnull=True,
        reserved_copy__isnull=True,
        request__state=KeyRequest.State.APPROVED,
    ).select_related("request__holder")
    return {grant.symbol_id: grant.request for grant in grants.order_by("-request__asked_at")}


def _named(request: KeyRequest) -> str:
    return _("request of {requester} for {holder}").format(requester=request.requester, holder=request.holder)
