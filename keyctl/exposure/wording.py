"""A core's figures as an argument in plain words: what fewer wafers would save, and what they cost."""

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from keyctl.exposure.models import CoreExposure
from keyctl.lib.numbers import as_number


@dataclass(frozen=True)
class Saving:
    """What the core would be without one of the masters it is pinned for."""

    master: str
    accepts: int
    fewer: int
    wafers: int


def savings_of(found: CoreExposure) -> list[Saving]:
    """By master, the largest saving first; only those that save something."""
    savings = [
        Saving(name, accepts, found.needed - accepts, found.wafers - found.idle_wafers - wafers)
        for name, accepts, wafers in found.without
    ]
    return sorted((each for each in savings if each.fewer > 0), key=lambda each: -each.fewer)


def short_argument(found: CoreExposure) -> str:
    """The one thing that would help this core most, for a list."""
    if found.idle_wafers:
        return ngettext(
            "{needed} without {count} wafer for no planned key",
            "{needed} without {count} wafers for no planned key",
            found.idle_wafers,
        ).format(needed=as_number(found.needed), count=found.idle_wafers)
    savings = savings_of(found)
    if savings:
        return _("{accepts} without master {master}").format(
            accepts=as_number(savings[0].accepts), master=savings[0].master
        )
    return _("no fewer: its keys need all of it")


def arguments(found: CoreExposure) -> list[str]:
    """The whole argument, sentence by sentence."""
    said = [
        ngettext(
            "{count} bitting turns this core; {unplanned} of them may be cut and belong to no key that "
            "was planned for it.",
            "{count} different bittings turn this core; {unplanned} of them may be cut and belong to no "
            "key that was planned for it.",
            found.accepts,
        ).format(count=as_number(found.accepts), unplanned=as_number(found.unplanned))
    ]
    if found.idle_wafers:
        said.append(
            ngettext(
                "{count} wafer of its {wafers} serves no planned key. Left out when it is pinned next, the "
                "core lets in {needed} and loses nothing.",
                "{count} wafers of its {wafers} serve no planned key. Left out when it is pinned next, the "
                "core lets in {needed} and loses nothing.",
                found.idle_wafers,
            ).format(count=found.idle_wafers, wafers=found.wafers, needed=as_number(found.needed))
        )
    said += [_said(saving) for saving in savings_of(found)]
    said.append(
        _(
            "Whoever holds one of its keys and the core itself can find every key that turns it in at "
            "most {trials} trial cuts on {blanks} blanks (IACR ePrint 2002/160). Fewer masters in a core "
            "leave less to find; they do not make it harder to look."
        ).format(trials=found.trials, blanks=found.blanks)
    )
    return said


def _said(saving: Saving) -> str:
    return _(
        "Pinned without master {master} it would let in {accepts}, with {wafers} fewer; whoever "
        "needs this door with that key would carry another one."
    ).format(master=saving.master, accepts=as_number(saving.accepts), wafers=_wafers(saving.wafers))


def _wafers(number: int) -> str:
    return ngettext("{count} wafer", "{count} wafers", number).format(count=number)
