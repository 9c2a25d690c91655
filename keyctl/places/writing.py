"""Forms for writing places and people down."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from keyctl import engine
from keyctl.lib.forms import ServiceForm
from keyctl.places.constructions import construction_words
from keyctl.places.models import Building, Door, Floor, Housing, Site
from keyctl.places.roles import Role

GRANTED = [(role.value, role.label) for role in Role if role is not Role.INTEGRATION]


class SiteForm(ServiceForm):
    code = forms.CharField(
        max_length=12, label=_("Code"), help_text=_("Short and in capitals, such as NORTH.")
    )
    name = forms.CharField(max_length=120, label=_("Name"))


class BuildingForm(ServiceForm):
    code = forms.CharField(
        max_length=12, label=_("Code"), help_text=_("Short: it stands before every door's number.")
    )
    name = forms.CharField(max_length=120, label=_("Name"))


class FloorForm(ServiceForm):
    label = forms.CharField(max_length=40, label=_("Name"), help_text=_("Such as Ground floor."))
    level = forms.IntegerField(
        label=_("Level"), help_text=_("0 for the ground floor; cellars count below it.")
    )


class DoorForm(ServiceForm):
    """A door with its first housing; others are added on their own."""

    floor = forms.ModelChoiceField(Floor.objects.none(), empty_label=None, label=_("Floor"))
    number = forms.CharField(max_length=30, label=_("Number"), help_text=_("As it stands on the door."))
    name = forms.CharField(max_length=120, required=False, label=_("Room"))
    door_class = forms.ChoiceField(choices=Door.DoorClass.choices, label=_("Class"))
    kind = forms.ChoiceField(choices=Housing.Kind.choices, label=_("Lock"))
    construction = forms.ChoiceField(label=_("Cores it takes"), initial="small-format")
    is_egress = forms.BooleanField(required=False, label=_("People leave through it in an emergency"))
    is_fire_rated = forms.BooleanField(required=False, label=_("It is fire-rated"))

    def __init__(self, *args: Any, building: Building, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        floor, construction = self.fields["floor"], self.fields["construction"]
        assert isinstance(floor, forms.ModelChoiceField)  # noqa: S101 (tells the type checker)
        assert isinstance(construction, forms.ChoiceField)  # noqa: S101 (tells the type checker)
        floor.queryset = building.floors.all()
        construction.choices = [(name, construction_words(name)) for name in engine.constructions()]


class SpaceForm(ServiceForm):
    number = forms.CharField(max_length=40, label=_("Number"), help_text=_("As it stands on the plan."))
    name = forms.CharField(max_length=120, required=False, label=_("Room"))


class HousingForm(ServiceForm):
    kind = forms.ChoiceField(choices=Housing.Kind.choices, label=_("Lock"))
    construction = forms.ChoiceField(label=_("Cores it takes"), initial="small-format")
    label = forms.CharField(
        max_length=60,
        required=False,
        label=_("Label"),
        help_text=_("Tells two alike on one door apart, such as Upper."),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        construction = self.fields["construction"]
        assert isinstance(construction, forms.ChoiceField)  # noqa: S101 (tells the type checker)
        construction.choices = [(name, construction_words(name)) for name in engine.constructions()]


class RemoveForm(ServiceForm):
    """Nothing is asked: the service looks at what stands on the place."""


class RoleForm(ServiceForm):
    """Another role for somebody who signs in already."""

    site = forms.ModelChoiceField(Site.objects.none(), empty_label=None, label=_("Site"))
    username = forms.CharField(max_length=60, label=_("Sign-in name"))
    role = forms.ChoiceField(choices=GRANTED, label=_("Role"))

    def __init__(self, *args: Any, sites: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        site = self.fields["site"]
        assert isinstance(site, forms.ModelChoiceField)  # noqa: S101 (tells the type checker)
        site.queryset = sites

    def clean_role(self) -> Role:
        return Role(self.cleaned_data["role"])


class PersonForm(RoleForm):
    """Somebody new, with a first role."""

    display_name = forms.CharField(max_length=120, label=_("Name"))
    email = forms.EmailField(required=False, label=_("Mail"))

    field_order = ("site", "username", "display_name", "email", "role")


class RoleChoice(forms.Form):
    """Which role of whom; whether the actor may end it, the view asks."""

    membership = forms.UUIDField()


class ManagerForm(ServiceForm):
    username = forms.CharField(max_length=60, label=_("Sign-in name of the manager"))


class PersonChoice(forms.Form):
    """Whose sign-in; whether the actor may look after it, the view asks."""

    person = forms.UUIDField()
