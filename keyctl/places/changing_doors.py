"""The form in which a door is changed: where and what it is, and the spaces that it joins, by number."""

from typing import Any, Final

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.lib.forms import ServiceForm
from keyctl.places.models import Door, Floor, Space

SEEN: Final = gettext_lazy("Only what the label on door and frame, or the records of the authority, say.")
# Of `stated_use` people say nothing: it is a model's word.
TEXTS: Final = {
    "fire_rating": gettext_lazy("Stated fire rating"),
    "hardware_set": gettext_lazy("Hardware set"),
    "serial_number": gettext_lazy("Serial number"),
    "asset_tag": gettext_lazy("Asset tag"),
    "bar_code": gettext_lazy("Bar code"),
}
FACTS: Final = ("floor", "number", "name", "door_class", "is_egress", "is_fire_rated", "note", *TEXTS)


class FloorChoice(forms.ModelChoiceField[Floor]):
    def label_from_instance(self, obj: Floor) -> str:
        return f"{obj.building.code}, {obj}"


class DoorChangeForm(ServiceForm):
    floor = FloorChoice(Floor.objects.none(), empty_label=None, label=gettext_lazy("Floor"))
    number = forms.CharField(
        max_length=30, label=gettext_lazy("Number"), help_text=gettext_lazy("As it stands on the door.")
    )
    name = forms.CharField(max_length=120, required=False, label=gettext_lazy("Room"))
    space_numbers = forms.CharField(
        max_length=200,
        required=False,
        label=gettext_lazy("Spaces it joins"),
        help_text=gettext_lazy("Their numbers on the plan, with commas between them."),
    )
    door_class = forms.ChoiceField(choices=Door.DoorClass.choices, label=gettext_lazy("Class"))
    is_egress = forms.BooleanField(
        required=False, label=gettext_lazy("People leave through it in an emergency")
    )
    is_fire_rated = forms.BooleanField(required=False, label=gettext_lazy("It is fire-rated"), help_text=SEEN)
    note = forms.CharField(
        label=gettext_lazy("Note"), required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 3})
    )

    def __init__(self, *args: Any, door: Door, **kwargs: Any) -> None:
        numbers = door.spaces.order_by("number").values_list("number", flat=True)
        kwargs["initial"] = {name: getattr(door, name) for name in FACTS} | {
            "space_numbers": ", ".join(numbers)
        }
        super().__init__(*args, **kwargs)
        for name, label in TEXTS.items():
            self.fields[name] = forms.CharField(required=False, max_length=60, label=label)
        self.order_fields(["floor", "number", "name", "space_numbers", *TEXTS])
        floor = self.fields["floor"]
        assert isinstance(floor, forms.ModelChoiceField)  # noqa: S101 (tells the type checker)
        floor.queryset = Floor.objects.filter(building__site=door.site).select_related("building")

    def clean(self) -> dict[str, Any]:
        """Spaces are told to the service only where their numbers changed: two floors may use one number."""
        facts = dict(super().clean() or self.cleaned_data)
        text = facts.pop("space_numbers", "")
        if "floor" in facts and text != self.initial["space_numbers"]:
            facts["spaces"] = self._spaces(facts["floor"], text)
        return facts

    def _spaces(self, floor: Floor, text: str) -> list[Space]:
        """By their numbers in the building, those on the door's own floor first."""
        numbers = list(dict.fromkeys(number for part in text.split(",") if (number := part.strip())))
        rows = Space.objects.filter(floor__building=floor.building_id, number__in=numbers)
        found = {space.number: space for space in sorted(rows, key=lambda each: each.floor_id == floor.pk)}
        if unknown := [number for number in numbers if number not in found]:
            words = _("{building} has no space {unknown}. Add it first, or leave it out.").format(
                building=floor.building, unknown=", ".join(unknown)
            )
            self.add_error("space_numbers", words)
        return [found[number] for number in numbers if number in found]
