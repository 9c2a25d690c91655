"""What a locksmith may do to one core from its page."""

from django import forms

from keyctl.cores.models import Core
from keyctl.lib.forms import ServiceForm

# Each is written into history after "looked at the pinning of core …".
REASONS = [
    ("", "Choose a reason"),
    ("to pin it on the bench", "To pin it on the bench"),
    ("it binds or turns badly", "It binds or turns badly"),
    ("to check the pins against the plan", "To check the pins against the plan"),
    ("after a key was lost", "After a key was lost"),
]
PLACES = [
    (Core.Place.SHELF, "On the shelf"),
    (Core.Place.BENCH, "On the bench"),
    (Core.Place.CASE, "In my case"),
    (Core.Place.GONE, "Gone: lost or scrapped"),
]


class RevealForm(ServiceForm):
    reason = forms.ChoiceField(label="Why do you need to see it?", choices=REASONS)


class MoveForm(ServiceForm):
    version = forms.IntegerField(widget=forms.HiddenInput)
    place = forms.ChoiceField(label="Where is it now?", choices=PLACES)
