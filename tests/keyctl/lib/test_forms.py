"""What a form says about fields that were left empty."""

from django import forms
from django.template.loader import render_to_string

from keyctl.lib.forms import ServiceForm


class Everything(ServiceForm):
    name = forms.CharField(label="What is it for?")
    day = forms.DateField(label="Day")
    paper = forms.FileField(label="Paper")
    is_sure = forms.BooleanField(label="I am sure")
    kind = forms.ChoiceField(label="Kind", choices=[("a", "A")])
    place = forms.ChoiceField(label="Place", choices=[("a", "A")], widget=forms.RadioSelect)
    doors = forms.MultipleChoiceField(choices=[("a", "A")], widget=forms.CheckboxSelectMultiple)
    own = forms.CharField(label="Reason", error_messages={"required": "Say why."})


def test_a_field_left_empty_says_what_to_do() -> None:
    assert {name: errors[0] for name, errors in Everything({}).errors.items()} == {
        "name": "Fill this in.",
        "day": "Fill this in.",
        "paper": "Choose a file.",
        "is_sure": "Tick this to go on.",
        "kind": "Choose one.",
        "place": "Choose one.",
        "doors": "Choose at least one.",
        "own": "Say why.",
    }


def test_a_label_that_asks_keeps_its_question_mark_alone() -> None:
    page = render_to_string("_form_errors.html", {"form": Everything({})})
    assert "What is it for? Fill this in." in page
    assert "Day: Fill this in." in page
