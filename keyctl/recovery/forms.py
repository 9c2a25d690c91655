"""What is typed into a case and into the register of control blanks. The services decide."""

import re
from decimal import Decimal, InvalidOperation
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.lib.forms import ServiceForm, VersionForm
from keyctl.lib.tags import clean_tag
from keyctl.places.models import Site
from keyctl.recovery.models import ControlBlank, ControlKeyCase
from keyctl.recovery.selectors import KeyReach, few_keys, systems_to_start
from keyctl.recovery.services import CHECKS
from keyctl.recovery.services.reading import TOLERANCE_IN
from keyctl.systems.models import KeySymbol

CODE = {"class": "code", "autocomplete": "off"}
Way = ControlKeyCase.Way


class OpenForm(ServiceForm):
    where = forms.ChoiceField(label="Key system whose control key is lost")
    note = forms.CharField(
        label="What happened",
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="When and where it was last seen, and by whom. No cuts.",
    )
    officer_told = forms.BooleanField(label="I have told the security officer.", required=False)

    def __init__(self, *args: Any, actor: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.pairs = {f"{site.pk}_{system.pk}": (site, system) for site, system in systems_to_start(actor)}
        choices = [(key, f"{site}: {system} ({system.code})") for key, (site, system) in self.pairs.items()]
        _choose(self, "where", choices)

    def clean(self) -> dict[str, Any]:
        facts = dict(super().clean() or self.cleaned_data)
        where = facts.pop("where", None)
        if where:
            facts["site"], facts["system"] = self.pairs[where]
        return facts


class CoreField(forms.CharField):
    """A core of the site by the tag it carries; the form sets ``site``."""

    site: Site

    def clean(self, value: Any) -> Core:
        text = super().clean(value)
        found = Core.objects.with_places().filter(site=self.site, tag=clean_tag(text)).first()
        if found is None:
            raise ValidationError(f"{self.site} has no core with the tag {text}. Look at the tag again.")
        return found


class ChooseCoreForm(VersionForm):
    core = CoreField(
        label="Tag of the core",
        max_length=24,
        widget=forms.TextInput(attrs=CODE),
        help_text="As it stands on the core: BCDF-2345-GHJK.",
    )

    def __init__(self, *args: Any, seen: ControlKeyCase, **kwargs: Any) -> None:
        super().__init__(*args, seen=seen, **kwargs)
        field = self.fields["core"]
        assert isinstance(field, CoreField)  # noqa: S101 (tells the type checker)
        field.site = seen.site


class StackField(forms.CharField):
    """The pins of one position from the key upwards, parted by blanks."""

    def clean(self, value: Any) -> tuple[Decimal, ...]:
        text = super().clean(value)
        if text == "-":
            return ()
        try:
            return tuple(_size(sign) for sign in re.split(r"[\s/;]+", text) if sign)
        except InvalidOperation:
            raise ValidationError(
                f"{self.label}: write numbers with blanks between them, or - where no pin stands."
            ) from None


class ReadingForm(ChooseCoreForm):
    unit = forms.ChoiceField(
        label="What you enter",
        choices=[("kit", "Kit numbers of the pins"), ("inch", "Measured lengths in inches")],
        widget=forms.RadioSelect,
        initial="kit",
    )
    tolerance_in = forms.DecimalField(
        label="Tolerance in inches",
        min_value=Decimal("0.0005"),
        max_value=Decimal("0.01"),
        initial=TOLERANCE_IN,
        help_text="For measured lengths: how far from a size a pin may be and still count as it.",
    )

    def __init__(self, *args: Any, seen: ControlKeyCase, **kwargs: Any) -> None:
        super().__init__(*args, seen=seen, **kwargs)
        positions = engine.load_format(seen.system.format_id).positions
        self.stack_names = [f"p{position}" for position in range(1, positions + 1)]
        for position, name in enumerate(self.stack_names, start=1):
            widget = forms.TextInput(attrs=CODE)
            self.fields[name] = StackField(label=f"Position {position}", max_length=60, widget=widget)

    @property
    def stacks(self) -> list[forms.BoundField]:
        return [self[name] for name in self.stack_names]

    def clean(self) -> dict[str, Any]:
        facts = dict(super().clean() or self.cleaned_data)
        facts["in_inches"] = facts.pop("unit", "kit") == "inch"
        facts["pins"] = [facts.pop(name, ()) for name in self.stack_names]
        return facts


class ChooseKeyForm(VersionForm):
    symbol = forms.ChoiceField(
        label="Working key to copy",
        widget=forms.RadioSelect,
        help_text="The key that turns fewest cores stands first, and gives the least away if it is lost.",
    )

    def __init__(self, *args: Any, seen: ControlKeyCase, **kwargs: Any) -> None:
        super().__init__(*args, seen=seen, **kwargs)
        reaches = few_keys(seen.core)
        self.offered = {str(key.symbol.pk): key.symbol for key in reaches}
        _choose(self, "symbol", [(str(key.symbol.pk), _key_words(key)) for key in reaches])
        self.initial["symbol"] = str(seen.symbol_id or "")

    def clean_symbol(self) -> KeySymbol:
        return self.offered[self.cleaned_data["symbol"]]


class CutForm(VersionForm):
    show_cuts = forms.BooleanField(
        label="Show me the cuts: I cut by the figures, not from the key itself.", required=False
    )


class CloseForm(VersionForm):
    checks = forms.MultipleChoiceField(
        label="Tried",
        widget=forms.CheckboxSelectMultiple,
        choices=[],
        error_messages={"required": "Try each of these first, then tick it."},
    )
    outcome = forms.CharField(
        label="How it ended",
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Others read it: no cuts.",
    )

    def __init__(self, *args: Any, seen: ControlKeyCase, **kwargs: Any) -> None:
        super().__init__(*args, seen=seen, **kwargs)
        field = self.fields["checks"]
        assert isinstance(field, forms.MultipleChoiceField)  # noqa: S101 (tells the type checker)
        field.choices = list(CHECKS[Way(seen.way)])


class CancelForm(VersionForm):
    outcome = forms.CharField(
        label="Why it is cancelled",
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="For instance: the key was found, and nobody else had it. No cuts.",
    )


class RegisterForm(ServiceForm):
    where = forms.ChoiceField(label="Keyway")

    def __init__(self, *args: Any, actor: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        pairs = [
            (site, system.keyway)
            for site, system in systems_to_start(actor)
            if (control := engine.load_format(system.format_id).control) and control.kind == "tip"
        ]
        kept = ControlBlank.objects.values_list("site_id", "keyway")
        missing = dict.fromkeys(pair for pair in pairs if (pair[0].pk, pair[1]) not in set(kept))
        self.pairs = {f"{site.pk}_{keyway}": (site, keyway) for site, keyway in missing}
        _choose(self, "where", [(key, f"{site}: {keyway}") for key, (site, keyway) in self.pairs.items()])

    def clean(self) -> dict[str, Any]:
        where = (super().clean() or self.cleaned_data).get("where")
        site, keyway = self.pairs[where] if where else (None, "")
        return {"site": site, "keyway": keyway}


class BlanksForm(VersionForm):
    number = forms.IntegerField(label="How many", min_value=0)
    note = forms.CharField(label="Note", max_length=200, required=False)


def _choose(form: forms.Form, name: str, choices: list[tuple[str, str]]) -> None:
    field = form.fields[name]
    assert isinstance(field, forms.ChoiceField)  # noqa: S101 (tells the type checker)
    field.choices = choices


def _key_words(key: KeyReach) -> str:
    return f"{key.symbol}: its control key takes out {key.cores} core{'' if key.cores == 1 else 's'}"


def _size(sign: str) -> Decimal:
    size = Decimal(sign)
    if not size.is_finite():
        raise InvalidOperation
    return size
