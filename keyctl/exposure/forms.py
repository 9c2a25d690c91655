"""Looking closer: a reason, and for cuts that somebody types, on which blank."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.lib.forms import ServiceForm
from keyctl.places.models import Site


class CloserLookForm(ServiceForm):
    """Nothing is asked: the permission of a second person says why."""


# Each is written into history after "asked which … cores at … a key of … turns:".
CUTS_REASONS = [
    ("", gettext_lazy("Choose a reason")),
    (gettext_lazy("a key was found"), gettext_lazy("A key was found")),
    (gettext_lazy("somebody may have copied a key"), gettext_lazy("Somebody may have copied a key")),
    (gettext_lazy("to choose cuts that turn nothing"), gettext_lazy("To choose cuts that turn nothing")),
]


class CutsForm(ServiceForm):
    """Cuts on a blank of one of the site's systems; they are never shown again."""

    cuts = forms.CharField(
        label=gettext_lazy("Its cuts, in the reading order"),
        max_length=40,
        widget=forms.PasswordInput(attrs={"class": "code", "autocomplete": "off", "spellcheck": "false"}),
    )
    reason = forms.ChoiceField(label=gettext_lazy("Why do you need to know?"), choices=CUTS_REASONS)

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        systems = site.key_systems.order_by("code")
        self.fields["system"] = forms.ModelChoiceField(systems, label=_("On a blank of"), empty_label=None)
        self.order_fields(["system", "cuts", "reason"])
