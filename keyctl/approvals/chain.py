"""Which decisions a set of keys and their doors needs, and why: a pure function of rules and figures."""

import hashlib
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from uuid import UUID

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from keyctl.approvals.models import ApprovalRule, Deciders
from keyctl.lib.errors import Refused
from keyctl.lib.language import Text, in_sentence
from keyctl.places.models import Door

When = ApprovalRule.When
DoorClass = Door.DoorClass

# From the gravest down: a rule for a class holds for those before it.
GRAVEST = (DoorClass.CRITICAL, DoorClass.RESTRICTED, DoorClass.ORDINARY)

FIRST_LABEL = gettext_lazy("The building’s people")
FURTHER_LABELS = {
    Deciders.BUILDING: gettext_lazy("Another of the building’s people"),
    Deciders.OFFICER: gettext_lazy("A security officer"),
    Deciders.NAMED: gettext_lazy("Named people"),
}
FIRST_WHY = gettext_lazy("They decide every request for the building, and which keys it gives.")


@dataclass(frozen=True)
class GivenKey:
    """A key as the rules look at it. ``level`` is 0 for a top key, larger below, None outside the levels."""

    name: str
    is_master: bool
    level: int | None
    is_control: bool = False


@dataclass(frozen=True)
class Effect:
    """What the keys of a request do: ``doors`` counts all that they open by class, ``extra`` those of them
    that nobody asked for."""

    keys: tuple[GivenKey, ...]
    doors: Mapping[str, int]
    extra: int


@dataclass(frozen=True)
class Rule:
    """A rule without its site. ``people`` are identifiers of users, for steps of named people only."""

    when: str
    who: str
    level: int | None = None
    door_class: str = ""
    extra: int | None = None
    people: frozenset[UUID] = frozenset()
    is_apart: bool = False
    silent_hours: int = 48


@dataclass
class Needed:
    """One decision. ``why`` has a sentence per rule that asks for it."""

    who: str
    people: frozenset[UUID]
    label: Text
    silent_hours: int
    is_apart: bool = False
    why: list[str] = field(default_factory=list)


# What holds at a site that wrote no rules of its own: an officer decides about what reaches far.
STARTING_RULES = (
    Rule(When.ALWAYS, Deciders.BUILDING),
    Rule(When.MASTER, Deciders.OFFICER, is_apart=True, silent_hours=24),
    Rule(When.DOOR_CLASS, Deciders.OFFICER, door_class=DoorClass.CRITICAL, silent_hours=24),
    Rule(When.EXTRA, Deciders.OFFICER, extra=20),
)


def first_step(rules: Sequence[Rule]) -> Needed:
    """What every request begins with, before anybody knows which keys it gives."""
    hours = [rule.silent_hours for rule in rules if _is_first(rule) and rule.when == When.ALWAYS]
    return Needed(Deciders.BUILDING, frozenset(), FIRST_LABEL, min(hours, default=48), why=[str(FIRST_WHY)])


def further_steps(rules: Sequence[Rule], effect: Effect) -> list[Needed]:
    """The decisions after the first, in the order of the rules; what the same people decide is one step.

    A control key is refused: it opens a core and not a door, and nobody gets one on request.

    >>> master = Effect((GivenKey("AA", True, 1),), {"ordinary": 4}, extra=2)
    >>> [(step.label, step.why, step.is_apart) for step in further_steps(STARTING_RULES, master)]
    [('A security officer', ['AA is a master key.'], True)]
    """
    if control := [key.name for key in effect.keys if key.is_control]:
        raise Refused(
            _("{control} is a control key. Control keys are never given on a request.").format(
                control=control[0]
            )
        )
    steps: dict[tuple[str, frozenset[UUID]], Needed] = {}
    for rule in rules:
        why = _HOLDS[When(rule.when)](rule, effect)
        if not why or _is_first(rule):
            continue
        label = FURTHER_LABELS[Deciders(rule.who)]
        fresh = Needed(rule.who, rule.people, label, rule.silent_hours)
        step = steps.setdefault((rule.who, rule.people), fresh)
        step.why.append(why)
        step.silent_hours = min(step.silent_hours, rule.silent_hours)
        step.is_apart |= rule.is_apart
    return list(steps.values())


def mark_of(rules: Iterable[Rule]) -> str:
    """Names the rules as they are: another mark, other rules."""
    words = [
        f"{rule.when}|{rule.who}|{rule.level}|{rule.door_class}|{rule.extra}|{rule.is_apart}"
        f"|{rule.silent_hours}|{sorted(map(str, rule.people))}"
        for rule in rules
    ]
    return hashlib.sha256("\n".join(words).encode()).hexdigest()[:20]


def _is_first(rule: Rule) -> bool:
    """The building's people decide already; only a second one of them is a further step."""
    return rule.who == Deciders.BUILDING and not rule.is_apart


def _always(_rule: Rule, _effect: Effect) -> str:
    return _("Every request needs it.")


def _master(_rule: Rule, effect: Effect) -> str:
    return _of_keys(
        [key for key in effect.keys if key.is_master],
        lambda names, count: ngettext("{names} is a master key.", "{names} are master keys.", count).format(
            names=names
        ),
    )


def _top(_rule: Rule, effect: Effect) -> str:
    found = [key for key in effect.keys if key.is_master and key.level == 0]
    return _of_keys(
        found,
        lambda names, count: ngettext("{names} is a top key.", "{names} are top keys.", count).format(
            names=names
        ),
    )


def _level(rule: Rule, effect: Effect) -> str:
    found = [key for key in effect.keys if key.is_master and key.level is not None]
    found = [key for key in found if key.level is not None and key.level <= (rule.level or 0)]
    return _of_keys(
        found,
        lambda names, count: ngettext(
            "{names} is a master key at level {level} or above it.",
            "{names} are master keys at level {level} or above it.",
            count,
        ).format(names=names, level=rule.level),
    )


def _door_class(rule: Rule, effect: Effect) -> str:
    classes = GRAVEST[: GRAVEST.index(DoorClass(rule.door_class)) + 1]
    count = sum(effect.doors.get(name, 0) for name in classes)
    if not count:
        return ""
    words = _(" or ").join(in_sentence(name.label) for name in reversed(classes))
    return ngettext(
        "The keys open {count} {classes} door.",
        "The keys open {count} {classes} doors.",
        count,
    ).format(count=count, classes=words)


def _extra(rule: Rule, effect: Effect) -> str:
    if effect.extra < (rule.extra or 1):
        return ""
    return ngettext(
        "The keys open {count} door that nobody asked for.",
        "The keys open {count} doors that nobody asked for.",
        effect.extra,
    ).format(count=effect.extra)


def _of_keys(keys: Sequence[GivenKey], said: Callable[[str, int], str]) -> str:
    if not keys:
        return ""
    names = sorted(key.name for key in keys)
    shown = ", ".join(names[:3])
    if len(names) > 3:
        shown = _("{names} and others").format(names=shown)
    return said(shown, len(names))


_HOLDS: dict[When, Callable[[Rule, Effect], str]] = {
    When.ALWAYS: _always,
    When.MASTER: _master,
    When.TOP: _top,
    When.LEVEL: _level,
    When.DOOR_CLASS: _door_class,
    When.EXTRA: _extra,
}
