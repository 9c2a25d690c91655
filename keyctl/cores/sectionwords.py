"""What a key does to a core, in words: the same verdict as the picture, and the reason chamber by chamber."""

from collections.abc import Sequence

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from keyctl.engine import Across, CoreFormat, LiftedChamber, Turning


def plug_words(lifted: Sequence[LiftedChamber]) -> str:
    blocked = [each.position for each in lifted if each.at_operating]
    if not blocked:
        return _("The plug turns: in every chamber two pins part at the operating line.")
    return ngettext(
        "The plug does not turn: it binds in chamber {chambers}.",
        "The plug does not turn: it binds in chambers {chambers}.",
        len(blocked),
    ).format(chambers=_listed(blocked))


def core_words(
    format: CoreFormat, lifted: Sequence[LiftedChamber], turning: Turning, blank: str = "operating"
) -> str:
    """How the core comes out with this key, or why not; nothing where it is fixed."""
    if format.sleeve:
        return _sleeve_words([each.position for each in lifted if each.at_withdrawing])
    if format.control_kind == "tip":
        return _tip_words(turning, blank)
    if format.control_kind == "screw":
        return _screw_words(turning)
    return ""


def chamber_words(across: Across | None, *, has_pins: bool = True) -> str:
    """Why a chamber is free or blocked at a line; a pin by its role and size, and how far it stands out."""
    if across is None:
        return _("Two pins part here.") if has_pins else _("No pins stand here.")
    if across.role == "spring":
        return _("The pins end {below} below the line, and the spring stands across it.").format(
            below=_increments(across.below)
        )
    if across.role == "bottom":
        return _("The bottom pin {size} stands {above} above the line.").format(
            size=across.size, above=_increments(across.above)
        )
    if across.role == "top":
        return _("The top pin {size} reaches {below} below the line.").format(
            size=across.size, below=_increments(across.below)
        )
    return _between(across)


def _between(across: Across) -> str:
    sentences = {
        "master": _("The master pin {size} stands across: {above} above the line, {below} below it."),
        "control": _("The control pin {size} stands across: {above} above the line, {below} below it."),
    }
    return sentences[across.role].format(
        size=across.size, above=_increments(across.above), below=_increments(across.below)
    )


def _sleeve_words(blocked: Sequence[int]) -> str:
    if not blocked:
        return _("The core comes out: the sleeve turns with the plug.")
    return ngettext(
        "The core stays in: the sleeve is held in chamber {chambers}.",
        "The core stays in: the sleeve is held in chambers {chambers}.",
        len(blocked),
    ).format(chambers=_listed(blocked))


def _tip_words(turning: Turning, blank: str) -> str:
    if turning.withdraws:
        return _("The core comes out: the longer tip of the control blank reaches the control pin.")
    if blank == "control":
        return _("The core stays in: the plug does not turn.")
    return _("The core stays in: only the longer tip of a control blank reaches its control pin.")


def _screw_words(turning: Turning) -> str:
    if turning.operates:
        return _("A screw holds the core; the open shackle gives access to it.")
    return _("The core stays in: a screw holds it, behind a shackle that this key does not open.")


def _increments(count: int) -> str:
    return ngettext("{count} increment", "{count} increments", count).format(count=count)


def _listed(positions: Sequence[int]) -> str:
    return ", ".join(map(str, positions))
