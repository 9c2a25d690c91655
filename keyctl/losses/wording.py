"""What is due at a door and why, and what the lost keys do there, in sentences."""

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from keyctl.lib.language import in_sentence
from keyctl.losses.models import CaseDoor
from keyctl.places.models import Door

Route = CaseDoor.Route
Why = CaseDoor.Why


def effect(row: CaseDoor) -> str:
    if row.operates and row.withdraws:
        return _("turns it and takes the core out")
    return _("turns it") if row.operates else _("takes the core out")


def route(row: CaseDoor) -> str:
    """By what the lost key gets in, in words that follow its symbol."""
    words = {
        Route.OWN: _("the door's own key"),
        Route.CROSS: _("one of the keys it is cross-keyed to"),
        Route.MASTER: _("a master above its key"),
        Route.CONTROL: _("its control key"),
        Route.INCIDENTAL: _("not meant to by the plan: the pins let it in"),
    }[Route(row.route)]
    if row.keys < 2:
        return words
    others = ngettext(
        "{words}, and {count} more of the lost keys",
        "{words}, and {count} more of the lost keys",
        row.keys - 1,
    )
    return others.format(words=words, count=row.keys - 1)


def reason(row: CaseDoor) -> str:
    """Why a rekey is due here, or why not."""
    why = Why(row.why)
    if why == Why.NO_DOOR:
        return _("In no door: pin it anew before it goes into one.")
    if why == Why.FOUND:
        return _("Every lost key to it is found; one may have been copied meanwhile.")
    if why == Why.MASTER:
        return _by_one(row)
    return f"{_copies(row)}; {_limit(row)}"


def _by_one(row: CaseDoor) -> str:
    if row.symbol.is_master:
        return _("{symbol} is a master key: one lost copy suffices.").format(symbol=row.symbol)
    if row.symbol.is_control:
        return _("{symbol} is a control key: one lost copy suffices.").format(symbol=row.symbol)
    return _("A lost key takes the core out or is a master: one lost copy suffices.")


def _copies(row: CaseDoor) -> str:
    copies = ngettext("{count} copy", "{count} copies", row.cut).format(count=row.cut)
    lost = ngettext(
        "{lost} of {copies} of its keys is lost ({share})",
        "{lost} of {copies} of its keys are lost ({share})",
        row.lost,
    )
    return lost.format(lost=row.lost, copies=copies, share=percent(row.share_lost))


def _limit(row: CaseDoor) -> str:
    kind = in_sentence(Door.DoorClass(row.door_class).label)
    if row.share_due == 0:
        return _("for {kind} doors one lost copy suffices.").format(kind=kind)
    return _("for {kind} doors a rekey is due at {share}.").format(kind=kind, share=percent(row.share_due))


def percent(share: int) -> str:
    """
    >>> [percent(share) for share in (0, 50, 83, 1000)]
    ['0 %', '5 %', '8.3 %', '100 %']
    """
    return f"{share / 10:g} %"


def share_words(share: int) -> str:
    if share == 0:
        return _("one lost copy")
    return _("{share} of the copies lost").format(share=percent(share))
