"""What is typed into a case and into the register of control blanks. The services decide."""

import re
from decimal import Decimal, InvalidOperation
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.bench.forms.units import MM, in_inches, tolerance_field, unit_field, unit_of
from keyctl.cores.models import Core
from keyctl.lib.forms import ServiceForm, VersionForm
from keyctl.lib.tags import clean_tag
from keyctl.places.models import Site
from keyctl.recovery.models import ControlBlank, ControlKeyCase
from keyctl.recovery.selectors import KeyReach, few_keys, systems_to_start
from keyctl.recovery.services import CHECKS
from keyctl.systems.models import KeySymbol

CODE = {"class": "code", "autocomplete": "off"}
Way = ControlKeyCase.Way
MEASURED = "inch"
LEAST_TOLERANCE_IN = Decimal("0.0005")


class OpenForm(ServiceForm):
    where = forms.ChoiceField(label=gettext_lazy("Key system whose control key is lost"))
    note = forms.CharField(
        label=gettext_lazy("What happened"),
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=gettext_lazy("When and where it was last seen, and by whom. No cuts."),
    )
    officer_told = forms.BooleanField(label=gettext_lazy("I have told the security officer."), required=False)

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
            raise ValidationError(
                _("{site} has no core with the tag {text}. Look at the tag again.").format(
                    site=self.site, text=text
                )
            )
        return found


class ChooseCoreForm(VersionForm):
    core = CoreField(
        label=gettext_lazy("Tag of the core"),
        max_length=24,
        widget=forms.TextInput(attrs=CODE),
        help_text=gettext_lazy("As it stands on the core: BCDF-2345-GHJK."),
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
                _("{label}: write numbers with blanks between them, or - where no pin stands.").format(
                    label=self.label
                )
            ) from None


class ReadingForm(ChooseCoreForm):
    def __init__(self, *args: Any, seen: ControlKeyCase, **kwargs: Any) -> None:
        super().__init__(*args, seen=seen, **kwargs)
        self.measured_in = unit_of(self.data if self.is_bound else None)
        self._ask_in(self.measured_in)
        positions = engine.load_format(seen.system.format_id).positions
        self.stack_names = [f"p{position}" for position in range(1, positions + 1)]
        for position, name in enumerate(self.stack_names, start=1):
            widget = forms.TextInput(attrs=CODE)
            self.fields[name] = StackField(
                label=_("Position {position}").format(position=position), max_length=60, widget=widget
            )

    @property
    def stacks(self) -> list[forms.BoundField]:
        return [self[name] for name in self.stack_names]

    def clean(self) -> dict[str, Any]:
        facts = dict(super().clean() or self.cleaned_data)
        facts.pop("units", None)
        is_measured = facts.pop("unit", "kit") == MEASURED
        stacks = [facts.pop(name, ()) for name in self.stack_names]
        facts["in_inches"] = is_measured
        facts["pins"] = [self._sizes(stack) for stack in stacks] if is_measured else stacks
        if "tolerance_in" in facts:
            facts["tolerance_in"] = in_inches(facts["tolerance_in"], self.measured_in)
        return facts

    def _sizes(self, stack: tuple[Decimal, ...]) -> tuple[Decimal, ...]:
        return tuple(in_inches(size, self.measured_in) for size in stack)

    def _ask_in(self, unit: str) -> None:
        """Measured lengths and the tolerance are told in one unit, which goes along with them."""
        self.fields["units"] = unit_field(unit)
        measured = _("Measured lengths in millimetres") if unit == MM else _("Measured lengths in inches")
        self.fields["unit"] = forms.ChoiceField(
            label=_("What you enter"),
            choices=[("kit", _("Kit numbers of the pins")), (MEASURED, measured)],
            widget=forms.RadioSelect,
            initial="kit",
        )
        told = _("For measured lengths: how far from a size a pin may be and still count as it.")
        self.fields["tolerance_in"] = tolerance_field(unit, least=LEAST_TOLERANCE_IN, help_text=told)


class ChooseKeyForm(VersionForm):
    symbol = forms.ChoiceField(
        label=gettext_lazy("Working key to copy"),
        widget=forms.RadioSelect,
        help_text=gettext_lazy(
            "The key that turns fewest cores stands first, and gives the least away if it is lost."
        ),
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
        label=gettext_lazy("Show me the cuts: I cut by the figures, not from the key itself."), required=False
    )


class CloseForm(VersionForm):
    checks = forms.MultipleChoiceField(
        label=gettext_lazy("Tried"),
        widget=forms.CheckboxSelectMultiple,
        choices=[],
        error_messages={"required": gettext_lazy("Try each of these first, then tick it.")},
    )
    outcome = forms.CharField(
        label=gettext_lazy("How it ended"),
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=gettext_lazy("Others read it: no cuts."),
    )

    def __init__(self, *args: Any, seen: ControlKeyCase, **kwargs: Any) -> None:
        super().__init__(*args, seen=seen, **kwargs)
        field = self.fields["checks"]
        assert isinstance(field, forms.MultipleChoiceField)  # noqa: S101 (tells the type checker)
        field.choices = list(CHECKS[Way(seen.way)])


class CancelForm(VersionForm):
    outcome = forms.CharField(
        label=gettext_lazy("Why it is cancelled"),
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=gettext_lazy("For instance: the key was found, and nobody else had it. No cuts."),
    )


class RegisterForm(ServiceForm):
    where = forms.ChoiceField(label=gettext_lazy("Keyway"))

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
    number = forms.IntegerField(label=gettext_lazy("How many"), min_value=0)
    note = forms.CharField(label=gettext_lazy("Note"), max_length=200, required=False)


def _choose(form: forms.Form, name: str, choices: list[tuple[str, str]]) -> None:
    field = form.fields[name]
    assert isinstance(field, forms.ChoiceField)  # noqa: S101 (tells the type checker)
    field.choices = choices


def _key_words(key: KeyReach) -> str:
    return ngettext(
        "{symbol}: its control key takes out {count} core",
        "{symbol}: its control key takes out {count} cores",
        key.cores,
    ).format(symbol=key.symbol, count=key.cores)


def _size(sign: str) -> Decimal:
    size = Decimal(sign)
    if not size.is_finite():
        raise InvalidOperation
    return size
