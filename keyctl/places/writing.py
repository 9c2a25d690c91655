"""Forms for writing places and people down."""

from typing import Any

from django import forms

from keyctl import engine
from keyctl.lib.forms import ServiceForm
from keyctl.places.models import Building, Door, Floor, Housing, Site
from keyctl.places.roles import Role

GRANTED = [(role.value, role.label) for role in Role if role is not Role.INTEGRATION]


class BuildingForm(ServiceForm):
    code = forms.CharField(max_length=12, help_text="Short: it stands before every door's number.")
    name = forms.CharField(max_length=120)


class FloorForm(ServiceForm):
    label = forms.CharField(max_length=20, label="Name", help_text="Such as Ground floor.")
    level = forms.IntegerField(label="Level", help_text="0 for the ground floor; cellars count below it.")


class DoorForm(ServiceForm):
    """A door with its first housing; others are added on their own."""

    floor = forms.ModelChoiceField(Floor.objects.none(), empty_label=None)
    number = forms.CharField(max_length=30, help_text="As it stands on the door.")
    name = forms.CharField(max_length=120, required=False, label="Room")
    door_class = forms.ChoiceField(choices=Door.DoorClass.choices, label="Class")
    kind = forms.ChoiceField(choices=Housing.Kind.choices, label="Lock")
    construction = forms.ChoiceField(label="Cores it takes", initial="small-format")
    is_egress = forms.BooleanField(required=False, label="People leave through it in an emergency")
    is_fire_rated = forms.BooleanField(required=False, label="It is fire-rated")

    def __init__(self, *args: Any, building: Building, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        floor, construction = self.fields["floor"], self.fields["construction"]
        assert isinstance(floor, forms.ModelChoiceField)  # noqa: S101 (tells the type checker)
        assert isinstance(construction, forms.ChoiceField)  # noqa: S101 (tells the type checker)
        floor.queryset = building.floors.all()
        construction.choices = [(name, name.capitalize()) for name in engine.constructions()]


class PersonForm(ServiceForm):
    site = forms.ModelChoiceField(Site.objects.none(), empty_label=None)
    username = forms.CharField(max_length=60, label="Sign-in name")
    display_name = forms.CharField(max_length=120, label="Name")
    email = forms.EmailField(required=False, label="Mail")
    role = forms.ChoiceField(choices=GRANTED)

    def __init__(self, *args: Any, sites: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        site = self.fields["site"]
        assert isinstance(site, forms.ModelChoiceField)  # noqa: S101 (tells the type checker)
        site.queryset = sites

    def clean_role(self) -> Role:
        return Role(self.cleaned_data["role"])


class ManagerForm(ServiceForm):
    username = forms.CharField(max_length=60, label="Sign-in name of the manager")


class PersonChoice(forms.Form):
    """Whose sign-in; whether the actor may look after it, the view asks."""

    person = forms.UUIDField()
