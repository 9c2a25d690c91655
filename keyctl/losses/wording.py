"""What is due at a door and why, and what the lost keys do there, in sentences."""

from keyctl.losses.models import CaseDoor
from keyctl.places.models import Door

Route = CaseDoor.Route
Why = CaseDoor.Why


def effect(row: CaseDoor) -> str:
    if row.operates and row.withdraws:
        return "turns it and takes the core out"
    return "turns it" if row.operates else "takes the core out"


def route(row: CaseDoor) -> str:
    """By what the lost key gets in, in words that follow its symbol."""
    words = {
        Route.OWN: "the door's own key",
        Route.CROSS: "one of the keys it is cross-keyed to",
        Route.MASTER: "a master above its key",
        Route.CONTROL: "its control key",
        Route.INCIDENTAL: "not meant to by the plan: the pins let it in",
    }[Route(row.route)]
    others = f", and {row.keys - 1} more of the lost keys" if row.keys > 1 else ""
    return words + others


def reason(row: CaseDoor) -> str:
    """Why a rekey is due here, or why not."""
    why = Why(row.why)
    if why == Why.NO_DOOR:
        return "In no door: pin it anew before it goes into one."
    if why == Why.FOUND:
        return "Every lost key to it is found; one may have been copied meanwhile."
    if why == Why.MASTER:
        return _by_one(row)
    return f"{_copies(row)}; {_limit(row)}"


def _by_one(row: CaseDoor) -> str:
    if row.symbol.is_master:
        return f"{row.symbol} is a master key: one lost copy suffices."
    if row.symbol.is_control:
        return f"{row.symbol} is a control key: one lost copy suffices."
    return "A lost key takes the core out or is a master: one lost copy suffices."


def _copies(row: CaseDoor) -> str:
    of = f"{row.lost} of {row.cut} {'copy' if row.cut == 1 else 'copies'} of its keys"
    return f"{of} {'is' if row.lost == 1 else 'are'} lost ({percent(row.share_lost)})"


def _limit(row: CaseDoor) -> str:
    kind = Door.DoorClass(row.door_class).label.lower()
    if row.share_due == 0:
        return f"for {kind} doors one lost copy suffices."
    return f"for {kind} doors a rekey is due at {percent(row.share_due)}."


def percent(share: int) -> str:
    """
    >>> [percent(share) for share in (0, 50, 83, 1000)]
    ['0 %', '5 %', '8.3 %', '100 %']
    """
    return f"{share / 10:g} %"


def share_words(share: int) -> str:
    return "one lost copy" if share == 0 else f"{percent(share)} of the copies lost"
