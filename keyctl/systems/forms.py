"""What designers type: a draft of a system, and how it shall grow."""

import re
from typing import Any

from django import forms
from django.utils.translation import gettext, gettext_lazy

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.formats.selectors import offered_formats
from keyctl.lib.forms import ServiceForm
from keyctl.lib.language import Text
from keyctl.places.models import Site
from keyctl.systems.access import design_sites
from keyctl.systems.models import KeySymbol, SystemDraft
from keyctl.systems.services.drafting import wanted_of
from keyctl.systems.services.extending import MOST_AT_ONCE

LEVELS_BELOW = engine.MOST_LEVELS - 1
PLAIN = {"autocomplete": "off", "spellcheck": "false", "autocapitalize": "none"}
CODE = {**PLAIN, "class": "code"}
RULES = {
    "max_equal": (gettext_lazy("Most equal cuts"), gettext_lazy("How often one depth may occur in a key.")),
    "max_run": (gettext_lazy("Longest run"), gettext_lazy("How often one depth may occur in a row.")),
    "min_distinct": (
        gettext_lazy("Least different depths"),
        gettext_lazy("How many different depths a key has at least."),
    ),
    "min_span": (
        gettext_lazy("Least span"),
        gettext_lazy("What its deepest and shallowest cut differ by at least."),
    ),
}


# Of one level: keys below each, positions, how many are held in turn.
Row = tuple[int | None, tuple[int, ...] | None, int | None]


class Unshown(forms.TextInput):
    """What is typed here is never sent back to the page."""

    def format_value(self, value: Any) -> str:  # noqa: ARG002 (the widget's own signature)
        return ""


class PositionsField(forms.CharField):
    """Positions in their sequence, like 7 6 5 or 7, 6, 5; an empty one is None."""

    def to_python(self, value: Any) -> Any:
        text = super().to_python(value) or ""
        parts = re.findall(r"[^\s,;]+", text)
        if not all(part.isdigit() and len(part) < 3 for part in parts):
            raise forms.ValidationError(gettext("Name positions by their numbers, the fastest first: 7 6 5."))
        return tuple(map(int, parts)) or None


def _whole(label: Text, hint: Text = "", most: int = 99) -> forms.IntegerField:
    return forms.IntegerField(label=label, help_text=hint, required=False, min_value=1, max_value=most)


class DraftForm(ServiceForm):
    """Its cleaned facts are those of `work_out`."""

    name = forms.CharField(max_length=120, label=gettext_lazy("Name"))
    code = forms.CharField(max_length=20, label=gettext_lazy("Code"), widget=forms.TextInput(attrs=CODE))
    sites = forms.ModelMultipleChoiceField(Site.objects.none(), widget=forms.CheckboxSelectMultiple)
    format_id = forms.ChoiceField(label=gettext_lazy("Core format"))
    keyway = forms.CharField(
        max_length=20,
        label=gettext_lazy("Keyway"),
        help_text=gettext_lazy("As the blanks are named."),
        widget=forms.TextInput(attrs=CODE),
    )
    method = forms.ChoiceField(label=gettext_lazy("Method"), choices=engine.METHODS.items())
    master = forms.CharField(
        max_length=20,
        required=False,
        label=gettext_lazy("Own top master"),
        help_text=gettext_lazy(
            "Empty: drawn by chance, or the one you gave before. It is sealed and not shown again."
        ),
        widget=Unshown(attrs=CODE),
    )
    parity = forms.CharField(
        max_length=16,
        required=False,
        label=gettext_lazy("Parity pattern"),
        help_text=gettext_lazy(
            "Of a two-step system: E or O for each position, like EOOEOEE. Empty: by chance."
        ),
        widget=Unshown(attrs=CODE),
    )
    array = forms.CharField(
        max_length=200,
        required=False,
        label=gettext_lazy("Own key bitting array"),
        help_text=gettext_lazy(
            "Empty: every depth in the master's series, or what you gave before. Else the depths of each "
            "position, with blanks between: 3579 0246 and so on."
        ),
        widget=Unshown(attrs=CODE),
    )

    def __init__(self, *args: Any, actor: User, draft: SystemDraft | None = None, **named: Any) -> None:
        super().__init__(*args, **named)
        for level in range(1, LEVELS_BELOW + 1):
            self.fields[f"need_{level}"] = _whole(
                gettext("Level {level}: keys").format(level=level), most=100_000
            )
            self.fields[f"group_{level}"] = PositionsField(
                label=gettext("Positions"), required=False, max_length=60, widget=forms.TextInput(attrs=CODE)
            )
            self.fields[f"held_{level}"] = _whole(gettext("Held in turn"), most=15)
        for rule, (label, hint) in RULES.items():
            self.fields[rule] = _whole(label, hint)
        self.fields["sites"].label = gettext("Used at")
        self.fields["sites"].queryset = design_sites(actor)  # type: ignore[attr-defined]
        self.fields["format_id"].choices = offered_formats()  # type: ignore[attr-defined]
        if draft is not None:
            self.initial = {**self.initial, **_initial(draft)}

    def level_rows(self) -> list[list[forms.BoundField]]:
        return [
            [self[f"{part}_{level}"] for part in ("need", "group", "held")]
            for level in range(1, LEVELS_BELOW + 1)
        ]

    def rule_fields(self) -> list[forms.BoundField]:
        return [self[rule] for rule in RULES]

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        rows = [self._level(facts, level) for level in range(1, LEVELS_BELOW + 1)]
        filled = [row for row in rows if row[0] is not None]
        if fault := _fault(rows, filled):
            raise forms.ValidationError(fault)
        if self.errors:
            return facts
        return {
            **{name: facts[name] for name in ("name", "code", "keyway")},
            "sites": list(facts["sites"]),
            "wanted": self._wanted(facts, filled),
        }

    def _level(self, facts: dict[str, Any], level: int) -> Row:
        return facts.get(f"need_{level}"), facts.get(f"group_{level}"), facts.get(f"held_{level}")

    def _wanted(self, facts: dict[str, Any], rows: list[Row]) -> engine.Wanted:
        held = tuple(row[2] or 0 for row in rows)
        groups = tuple(row[1] for row in rows if row[1])
        return engine.Wanted(
            format_id=facts["format_id"],
            needs=tuple(need for need, _, _ in rows if need is not None),
            method=facts["method"],
            groups=groups or None,
            constants=held if any(held) else None,
            rules={rule: facts[rule] for rule in RULES if facts.get(rule) is not None},
            master=facts["master"] or None,
            array=tuple(facts["array"].split()) or None,
            parity=facts["parity"].strip().upper() or None,
        )


def _fault(rows: list[Row], filled: list[Row]) -> str | None:
    """What is wrong with the levels taken together."""
    if any(need is None and (group or held) for need, group, held in rows):
        return gettext("Say how many keys stand below each key on every level that has positions.")
    if rows[: len(filled)] != filled:
        return gettext("Fill the levels from the first one on; leave none out between others.")
    by_hand = [group for _, group, _ in filled if group]
    if by_hand and len(by_hand) < len(filled):
        return gettext("Choose the positions of every level by hand, or of none.")
    return None


def _initial(draft: SystemDraft) -> dict[str, Any]:
    """What was typed before, without the top master and the array."""
    wanted = wanted_of(draft)
    facts: dict[str, Any] = {name: getattr(draft, name) for name in ("name", "code", "keyway", "format_id")}
    facts |= {"sites": draft.sites.all(), "method": wanted.method, **wanted.rules}
    for level, need in enumerate(wanted.needs, 1):
        facts[f"need_{level}"] = need
        if wanted.groups:
            facts[f"group_{level}"] = " ".join(map(str, wanted.groups[level - 1]))
        if wanted.constants:
            facts[f"held_{level}"] = wanted.constants[level - 1] or None
    return facts


POLICIES = {
    "sequence": gettext_lazy("The next in sequence"),
    "distance": gettext_lazy("The furthest from every key there is"),
    "incidental": gettext_lazy("The fewest new keys that nobody meant"),
}
KINDS = {
    KeySymbol.Kind.CHANGE: gettext_lazy("Change keys"),
    KeySymbol.Kind.MASTER: gettext_lazy("Masters, for keys to come below them"),
}


class ExtendForm(ServiceForm):
    """Its cleaned facts are those of `plan_extension`."""

    kind = forms.ChoiceField(label=gettext_lazy("What shall stand below it?"))
    policy = forms.ChoiceField(
        label=gettext_lazy("Choose"), choices=POLICIES.items(), widget=forms.RadioSelect
    )
    count = forms.IntegerField(label=gettext_lazy("How many"), min_value=1, max_value=MOST_AT_ONCE)

    def __init__(self, *args: Any, parent: KeySymbol, **named: Any) -> None:
        named.setdefault("initial", {"policy": "sequence", "count": 1})
        super().__init__(*args, **named)
        is_last = (parent.level or 0) + 2 >= parent.system.levels
        kinds = [kind for kind in KINDS if not (is_last and kind == KeySymbol.Kind.MASTER)]
        self.fields["kind"].choices = [(kind, KINDS[kind]) for kind in kinds]  # type: ignore[attr-defined]
