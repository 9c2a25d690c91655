"""Cores and keys as a person types them: one a line, a name, a colon, and the cuts.

A core is written position by position, the cuts of one position together: ``Door 12: 35 24 1 69 79 02``.
After a stroke may follow the control key, and after another the part of the house: ``... / 743810 / North``.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field

from django.utils.translation import gettext

from keyctl import engine
from keyctl.lib.errors import Refused

MOST_LINES = 400
LONGEST_NAME = 60


@dataclass
class Lines:
    """Named lines, with a reason for each that cannot be read; no reason repeats a cut."""

    found: dict[str, str] = field(default_factory=dict, repr=False)
    reasons: list[str] = field(default_factory=list)


def _lines(text: str, what: str) -> Lines:
    lines = Lines()
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip():
            continue
        name, colon, rest = line.partition(":")
        name = name.strip()
        if not (colon and name and rest.strip()) or len(name) > LONGEST_NAME:
            lines.reasons.append(
                gettext("{what}, line {number}: write a name, a colon and the cuts.").format(
                    what=what, number=number
                )
            )
        elif name in lines.found:
            lines.reasons.append(
                gettext("{what}, line {number}: the name {name} stands there twice.").format(
                    what=what, number=number, name=name
                )
            )
        else:
            lines.found[name] = rest
    if len(lines.found) > MOST_LINES:
        lines.reasons.append(
            gettext("{what}: at most {most_lines} lines are read.").format(what=what, most_lines=MOST_LINES)
        )
    return lines


def typed_cores(format: engine.CoreFormat, text: str) -> list[engine.SeenCore]:
    """Refused with every line that cannot be read."""
    lines = _lines(text, "Cores")
    cores = []
    for name, rest in lines.found.items():
        cuts, _, more = rest.partition("/")
        control, _, group = more.partition("/")
        reasons = list(_wrong_core(format, name, cuts.split(), "".join(control.split())))
        lines.reasons += reasons
        if not reasons:
            under = "".join(control.split()) or None
            cores.append(
                engine.seen_cuts(format.id, name, cuts.split(), under, group.strip()[:LONGEST_NAME] or None)
            )
    _stop(lines.reasons)
    return cores


def _wrong_core(format: engine.CoreFormat, name: str, columns: list[str], control: str) -> Iterator[str]:
    if len(columns) != format.positions:
        yield gettext("{name}: {columns} positions are given, and the core has {positions}.").format(
            name=name, columns=len(columns), positions=format.positions
        )
    for position, column in enumerate(columns, 1):
        if any(symbol not in format.depths for symbol in column):
            yield gettext("{name}, position {position}: use the depths {depths} only.").format(
                name=name, position=position, depths=format.depths
            )
    if control and not format.sleeve:
        yield gettext(
            "{name}: cores of this format have no control sleeve; leave the control key out."
        ).format(name=name)
    elif control and not engine.is_key(format.id, control):
        yield gettext("{name}: the control key is no key of this format.").format(name=name)


def typed_keys(format: engine.CoreFormat, text: str) -> dict[str, str]:
    lines = _lines(text, "Keys")
    keys = {name: "".join(rest.split()) for name, rest in lines.found.items()}
    wrong = [name for name, cuts in keys.items() if not engine.is_key(format.id, cuts)]
    _stop(
        lines.reasons
        + [gettext("{name}: no key of this format has such cuts.").format(name=name) for name in wrong]
    )
    return keys


def typed_labels(text: str) -> list[tuple[str, str | None]]:
    """Cores that could be decoded next: a name a line, and the part of the house after a stroke."""
    labels = []
    for line in text.splitlines()[:MOST_LINES]:
        name, _, group = line.partition("/")
        if name.strip():
            labels.append((name.strip()[:LONGEST_NAME], group.strip()[:LONGEST_NAME] or None))
    return labels


def _stop(reasons: list[str]) -> None:
    if reasons:
        raise Refused(gettext("Some lines cannot be read."), reasons=reasons[:12])
