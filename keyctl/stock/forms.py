"""What people type at the bins. The services decide; forms only read."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django import forms
from django.utils.translation import gettext_lazy

from keyctl import engine
from keyctl.lib.forms import ServiceForm
from keyctl.stock.families import families
from keyctl.stock.models import PinBin, PinMove
from keyctl.stock.services.ledger import MOST_PINS

HAND_MOVES = [PinMove.Reason.BOUGHT, PinMove.Reason.RETURNED, PinMove.Reason.SCRAPPED]


def _number(least: int = 0, **facts: Any) -> forms.IntegerField:
    widget = forms.NumberInput(attrs={"inputmode": "numeric", "autocomplete": "off"})
    return forms.IntegerField(min_value=least, max_value=MOST_PINS, widget=widget, **facts)


@dataclass(frozen=True)
class SheetRow:
    bin: PinBin
    field: forms.BoundField
    seen_name: str


class Sheet(ServiceForm):
    """One number per bin; what is left empty stays as it is."""

    least = 0

    def __init__(self, *args: Any, bins: Sequence[PinBin], names: Mapping[UUID, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.bins = bins
        for bin in bins:
            self.fields[f"number-{bin.pk}"] = _number(self.least, required=False, label=names[bin.pk])

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        typed = {bin.pk: said.get(f"number-{bin.pk}") for bin in self.bins}
        return {"numbers": {pk: number for pk, number in typed.items() if number is not None}}

    def rows(self) -> Iterator[SheetRow]:
        for bin in self.bins:
            yield SheetRow(bin, self[f"number-{bin.pk}"], f"seen-{bin.pk}")


class CountSheet(Sheet):
    """Carries the version of each bin that the page showed; the page always shows the present ones."""

    def __init__(self, *args: Any, bins: Sequence[PinBin], **kwargs: Any) -> None:
        super().__init__(*args, bins=bins, **kwargs)
        for bin in bins:
            self.fields[f"seen-{bin.pk}"] = forms.IntegerField(required=False, widget=forms.HiddenInput)

    def clean(self) -> dict[str, Any]:
        said = dict(self.cleaned_data)
        facts = super().clean()
        seen = {pk: said.get(f"seen-{pk}") for pk in facts["numbers"]}
        return facts | {"seen": {pk: version for pk, version in seen.items() if version is not None}}


class ReceiveSheet(Sheet):
    least = 1


class MarkSheet(Sheet):
    def __init__(self, *args: Any, bins: Sequence[PinBin], **kwargs: Any) -> None:
        super().__init__(*args, bins=bins, **kwargs)
        self.initial = {f"number-{bin.pk}": bin.low_at for bin in bins}


class NewKit(ServiceForm):
    format = forms.ChoiceField(label=gettext_lazy("Pins for cores of the format"))
    low_at = _number(
        label=gettext_lazy("Low at"),
        initial=20,
        help_text=gettext_lazy("A bin with this many pins or fewer is low."),
    )

    def __init__(self, *args: Any, taken: set[str], **kwargs: Any) -> None:
        """One choice per family that is not on the shelves yet."""
        super().__init__(*args, **kwargs)
        self.kits = {kit.formats[0].id: kit for key, kit in families().items() if key not in taken}
        field = self.fields["format"]
        assert isinstance(field, forms.ChoiceField)  # noqa: S101 (tells the type checker)
        field.choices = [(format_id, kit.title) for format_id, kit in self.kits.items()]

    def clean_format(self) -> engine.CoreFormat:
        return engine.load_format(self.cleaned_data["format"])


class Count(ServiceForm):
    count = _number(label=gettext_lazy("Pins in the bin"))
    version = forms.IntegerField(widget=forms.HiddenInput)


class Move(ServiceForm):
    reason = forms.ChoiceField(
        label=gettext_lazy("What happened"),
        choices=[(reason.value, reason.label) for reason in HAND_MOVES],
        widget=forms.RadioSelect,
        initial=PinMove.Reason.BOUGHT,
    )
    number = _number(1, label=gettext_lazy("How many pins"))
    note = forms.CharField(label=gettext_lazy("Note"), required=False, max_length=200)


class LowMark(ServiceForm):
    low_at = _number(label=gettext_lazy("Low at"))
