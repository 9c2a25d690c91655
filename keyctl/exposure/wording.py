"""A core's figures as an argument in plain words: what fewer wafers would save, and what they cost."""

from dataclasses import dataclass

from keyctl.exposure.models import CoreExposure


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
        return f"{found.needed:,} without {_wafers(found.idle_wafers)} for no planned key"
    savings = savings_of(found)
    if savings:
        return f"{savings[0].accepts:,} without master {savings[0].master}"
    return "no fewer: its keys need all of it"


def arguments(found: CoreExposure) -> list[str]:
    """The whole argument, sentence by sentence."""
    turn = "bitting turns" if found.accepts == 1 else "different bittings turn"
    said = [
        f"{found.accepts:,} {turn} this core; "
        f"{found.unplanned:,} of them may be cut and belong to no key that was planned for it."
    ]
    if found.idle_wafers:
        said.append(
            f"{_wafers(found.idle_wafers).capitalize()} of its {found.wafers} "
            f"{'serves' if found.idle_wafers == 1 else 'serve'} no planned key. Left out when it is pinned "
            f"next, the core lets in {found.needed:,} and loses nothing."
        )
    said += [_said(saving) for saving in savings_of(found)]
    said.append(
        f"Whoever holds one of its keys and the core itself can find every key that turns it in at most "
        f"{found.trials} trial cuts on {found.blanks} blanks (IACR ePrint 2002/160). Fewer masters in a core "
        "leave less to find; they do not make it harder to look."
    )
    return said


def _said(saving: Saving) -> str:
    return (
        f"Pinned without master {saving.master} it would let in {saving.accepts:,}, with "
        f"{_wafers(saving.wafers)} fewer; whoever needs this door with that key would carry another one."
    )


def _wafers(number: int) -> str:
    return f"{number} wafer{'' if number == 1 else 's'}"
