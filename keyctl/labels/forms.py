"""Choosing what gets labels, and measuring a sheet."""

from decimal import Decimal
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.labels.models import MEASURES, LabelGrid
from keyctl.labels.selectors import CHOICES
from keyctl.lib.forms import ServiceForm
from keyctl.orders.models import WorkOrder
from keyctl.places.models import Building, Site

MOST_ORDERS = 50


class PrintForm(ServiceForm):
    choice = forms.ChoiceField(label=gettext_lazy("Labels for"), widget=forms.RadioSelect)
    building = forms.ModelChoiceField(Building.objects.none(), label=gettext_lazy("Building"), required=False)
    order = forms.ModelChoiceField(WorkOrder.objects.none(), required=False, label=gettext_lazy("Work order"))
    grid = forms.ModelChoiceField(
        LabelGrid.objects.none(), label=gettext_lazy("Label sheet"), empty_label=None
    )
    start = forms.IntegerField(
        label=gettext_lazy("First label"),
        min_value=1,
        initial=1,
        help_text=gettext_lazy(
            "Where the first sheet is used in part: count the labels row by row, the upper left is 1."
        ),
    )

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["choice"].choices = [(each.name, each.label) for each in CHOICES.values()]  # type: ignore[attr-defined]
        orders = WorkOrder.objects.filter(site=site, lines__core__isnull=False).distinct()[:MOST_ORDERS]
        self._offer("building", site.buildings.all())
        self._offer("order", WorkOrder.objects.filter(pk__in=[order.pk for order in orders]))
        self._offer("grid", site.label_grids.all())

    def _offer(self, name: str, things: "QuerySet[Any]") -> None:
        field = self.fields[name]
        assert isinstance(field, forms.ModelChoiceField)  # noqa: S101 (tells the type checker)
        field.queryset = things

    def clean(self) -> dict[str, Any]:
        """``part`` is the building or the order that the choice needs."""
        facts = super().clean() or {}
        choice, parts = facts.get("choice"), {name: facts.pop(name, None) for name in ("building", "order")}
        if choice in parts and parts[choice] is None and not self.errors.get(choice):
            self.add_error(choice, _("Choose one."))
        part = parts.get(str(choice))
        return {**facts, "part": part.pk if part else None}


class GridForm(ServiceForm):
    name = forms.CharField(
        max_length=60,
        label=gettext_lazy("Name"),
        help_text=gettext_lazy("As the packet calls it, or what it is used for."),
    )
    paper = forms.ChoiceField(label=gettext_lazy("Paper"), choices=LabelGrid.Paper.choices)
    columns = forms.IntegerField(min_value=1, max_value=20, label=gettext_lazy("Labels side by side"))
    rows = forms.IntegerField(min_value=1, max_value=40, label=gettext_lazy("Labels from top to bottom"))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in MEASURES:
            self.fields[name] = _measure(name)


def _measure(name: str) -> forms.DecimalField:
    label, least, most = MEASURES[name]
    field = forms.DecimalField(
        label=f"{label}, mm", max_digits=5, decimal_places=2, min_value=least, max_value=most
    )
    if name.startswith("shift"):
        field.initial = Decimal(0)
        field.help_text = _("What this printer is off by; less than nothing the other way.")
    return field
