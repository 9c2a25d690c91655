"""A new order to rekey an area: which doors, which keys, and copies to cut of them."""

import re
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext, gettext_lazy

from keyctl.keys.models import Cabinet
from keyctl.orders.forms.opening import NewOrder
from keyctl.orders.models import MOST_COPIES
from keyctl.places.models import Building, Floor, Housing, Site
from keyctl.systems.models import KeySymbol, KeySystem

BREAKS = r"[\s,;]+"


class NewArea(NewOrder):
    """The area is a building or a floor, or those of its doors whose numbers are listed."""

    area = forms.ChoiceField(label=gettext_lazy("Building or floor"))
    only = forms.CharField(
        required=False,
        max_length=2000,
        label=gettext_lazy("Only these doors"),
        help_text=gettext_lazy(
            "Their numbers, with blanks or commas between them; empty: every door of the area."
        ),
        widget=forms.Textarea(attrs={"rows": 2, "class": "code"}),
    )
    keys = forms.CharField(
        max_length=200,
        label=gettext_lazy("Keys that shall turn them"),
        help_text=gettext_lazy("One symbol, or several where the doors shall answer to each of them."),
        widget=forms.TextInput(attrs={"class": "code", "autocomplete": "off", "spellcheck": "false"}),
        error_messages={"required": gettext_lazy("Name the key that shall turn these doors.")},
    )
    copies = forms.IntegerField(
        required=False, min_value=0, max_value=MOST_COPIES, label=gettext_lazy("Copies to cut of each key")
    )
    cabinet = forms.ModelChoiceField(
        queryset=Cabinet.objects.none(),
        required=False,
        label=gettext_lazy("Into the cabinet"),
        empty_label=gettext_lazy("No copies"),
    )

    def __init__(self, *args: Any, site: Site, system: KeySystem | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.site, self.system = site, system
        self.fields["area"].choices = areas_of(site)  # type: ignore[attr-defined]
        self.fields["cabinet"].queryset = site.cabinets.all()  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        said = dict(super().clean() or self.cleaned_data)
        symbols = self._symbols(said.get("keys", ""))
        facts = {name: said.get(name) for name in ("title", "due_on", "cabinet")}
        count = said.get("copies") or 0
        return facts | {
            "housings": list(self.housings(said.get("area", ""), said.get("only", ""))),
            "symbols": symbols,
            "copies": dict.fromkeys(symbols, count) if count else {},
        }

    def housings(self, area: str, only: str) -> QuerySet[Housing]:
        """The doors that are meant; a number that stands on none of them is told."""
        numbers = [number for number in re.split(BREAKS, only) if number]
        found = housings_in(self.site, area)
        if not numbers:
            return found
        known = set(found.values_list("door__number", flat=True))
        if missing := [number for number in numbers if number not in known]:
            raise forms.ValidationError(
                gettext("No lock of the area stands at {missing}.").format(missing=", ".join(missing))
            )
        return found.filter(door__number__in=numbers)

    def _symbols(self, text: str) -> list[KeySymbol]:
        if self.system is None:
            raise forms.ValidationError(gettext("No key system is used at this site yet."))
        names = list(dict.fromkeys(name for name in re.split(BREAKS, text) if name))
        keys = KeySymbol.objects.filter(system=self.system, symbol__in=names).select_related("system")
        found = {key.symbol: key for key in keys}
        if missing := [name for name in names if name not in found]:
            raise forms.ValidationError(
                gettext("{system} has no key {missing}.").format(
                    system=self.system, missing=", ".join(missing)
                )
            )
        return [found[name] for name in names]


def areas_of(site: Site) -> list[tuple[str, str]]:
    """Buildings, each with its floors."""
    found: list[tuple[str, str]] = []
    for building in Building.objects.filter(site=site).prefetch_related("floors").order_by("code"):
        found.append(
            (f"building-{building.pk}", gettext("{building}, every floor").format(building=building))
        )
        floors = sorted(building.floors.all(), key=lambda floor: floor.level)
        found += [(f"floor-{floor.pk}", f"{building}, {floor.label}") for floor in floors]
    return found


def housings_in(site: Site, area: str) -> QuerySet[Housing]:
    """In the order of the way through the building."""
    what, _, pk = area.partition("-")
    doors = Housing.objects.filter(door__floor__building__site=site)
    if what == "floor":
        found = doors.filter(door__floor__in=Floor.objects.filter(pk=pk))
    elif what == "building":
        found = doors.filter(door__floor__building__in=Building.objects.filter(pk=pk))
    else:
        return doors.none()
    return found.select_related("door__floor__building__site").order_by(
        "door__floor__building__code", "door__floor__level", "door__number", "kind", "label"
    )
