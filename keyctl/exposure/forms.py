from django import forms

from keyctl.lib.forms import ServiceForm

# Each is written into history after "looked at the keys that nearly turn core …".
REASONS = [
    ("", "Choose a reason"),
    ("to judge how exposed the door is", "To judge how exposed the door is"),
    ("to choose a key that stands further off", "To choose a key that stands further off"),
    ("a worn key turned where it should not", "A worn key turned where it should not"),
    ("after a key was lost", "After a key was lost"),
]


class CloserLookForm(ServiceForm):
    """Why somebody needs to know which keys nearly turn a core."""

    reason = forms.ChoiceField(label="Why do you need to see it?", choices=REASONS)
