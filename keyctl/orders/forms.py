"""What people say about work orders."""

import re
from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django import forms
from django.db.models import QuerySet

from keyctl.cores.models import Core
from keyctl.keys.models import Cabinet
from keyctl.lib.forms import ServiceForm
from keyctl.orders.models import MOST_COPIES, OrderLine, WorkOrder
from keyctl.orders.selectors import core_by_tag
from keyctl.places.models import Housing
from keyctl.systems.models import KeySymbol

PLACES_AFTER = [
    (Core.Place.BENCH.value, "On the bench, to be pinned again"),
    (Core.Place.SHELF.value, "On the shelf"),
    (Core.Place.CASE.value, "In my case"),
]


class OrderFilter(forms.Form):
    state = forms.ChoiceField(choices=[("", "Every state"), *WorkOrder.State.choices], required=False)
    kind = forms.ChoiceField(choices=[("", "Every kind of work"), *WorkOrder.Kind.choices], required=False)

    def chosen(self) -> dict[str, str]:
        """An unknown word in the address filters nothing."""
        self.is_valid()
        return {name: self.cleaned_data.get(name, "") for name in self.fields}


class NewOrder(ServiceForm):
    title = forms.CharField(max_length=160, label="What is it for?")
    due_on = forms.DateField(
        required=False, label="Due on", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )


class NewPinOrder(NewOrder):
    def __init__(self, *args: Any, choices: QuerySet[Core], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["title"].help_text = "Stands on the pinning sheet: name no door and no key here."
        self.fields["cores"] = forms.ModelMultipleChoiceField(
            queryset=choices, error_messages={"required": "Choose at least one core."}
        )


class NewSwapOrder(NewOrder):
    def __init__(self, *args: Any, choices: QuerySet[Housing], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["housings"] = forms.ModelMultipleChoiceField(
            queryset=choices, label="Doors", error_messages={"required": "Choose at least one door."}
        )


class NewCutOrder(NewOrder):
    """Beside every key stands a box for its number, named ``count-`` and the key; empty boxes cut nothing."""

    prefix_of_counts = "count-"

    def __init__(
        self, *args: Any, keys: QuerySet[KeySymbol], cabinets: QuerySet[Cabinet], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.keys = keys
        self.fields["cabinet"] = forms.ModelChoiceField(
            queryset=cabinets,
            label="Into the cabinet",
            empty_label=None,
            error_messages={"required": "Choose the cabinet that the copies go into."},
        )

    @classmethod
    def typed_counts(cls, data: Mapping[str, Any]) -> dict[UUID, str]:
        """What was typed into the boxes; a name that holds no key is nobody's box."""
        boxes = {name.removeprefix(cls.prefix_of_counts): data[name] for name in data if cls._is_box(name)}
        return {UUID(pk): text.strip() for pk, text in boxes.items() if text.strip() not in {"", "0"}}

    @classmethod
    def _is_box(cls, name: str) -> bool:
        return bool(re.fullmatch(cls.prefix_of_counts + r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}", name))

    def clean(self) -> dict[str, Any]:
        said = dict(super().clean() or self.cleaned_data)
        typed = self.typed_counts(self.data)
        found = self.keys.in_bulk(typed)
        if len(found) < len(typed):
            raise forms.ValidationError("One of these keys is no longer here. Look at the list again.")
        return said | {"counts": {found[pk]: self._number(found[pk], text) for pk, text in typed.items()}}

    def _number(self, symbol: KeySymbol, text: str) -> int:
        if text.isdecimal() and len(text) <= len(str(MOST_COPIES)):
            return int(text)
        raise forms.ValidationError(f"Say in figures how many copies of {symbol}: 1 to {MOST_COPIES}.")


class ChooseCore(ServiceForm):
    """A core from the list, or the tag on the core in one's hand; the tag wins."""

    core = forms.UUIDField(required=False, label="Core")
    tag = forms.CharField(
        required=False,
        max_length=200,
        label="Tag on the core",
        help_text="Type or scan it: that is the surest way.",
        widget=forms.TextInput(
            attrs={
                "class": "code",
                "autocomplete": "off",
                "autocapitalize": "characters",
                "spellcheck": "false",
            }
        ),
    )

    def __init__(self, *args: Any, line: OrderLine, choices: QuerySet[Core], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.line, self.choices = line, choices

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        if tag := said.get("tag"):
            return {"core": self._by_tag(tag)}
        return {"core": self._by_choice(said.get("core"))}

    def _by_tag(self, tag: str) -> Core:
        if core := core_by_tag(self.line.order.site, tag):
            return core
        raise forms.ValidationError(f"No core at {self.line.order.site} has this tag. Read it again.")

    def _by_choice(self, pk: UUID | None) -> Core:
        if pk is None:
            raise forms.ValidationError("Choose the core that goes in, or type the tag it carries.")
        if core := self.choices.filter(pk=pk).first():
            return core
        raise forms.ValidationError("That core can no longer go in here. Choose another one.")


class Exchange(ServiceForm):
    """What was seen at the door, and where the old core goes."""

    core_in_id = forms.UUIDField(widget=forms.HiddenInput)
    core_in_version = forms.IntegerField(widget=forms.HiddenInput)
    core_out_id = forms.UUIDField(widget=forms.HiddenInput, required=False)
    put_at = forms.ChoiceField(
        choices=PLACES_AFTER,
        label="Where does the core that came out go?",
        widget=forms.RadioSelect,
        error_messages={"required": "Say where the core that came out goes."},
    )


class Checks(Exchange):
    put_at = forms.ChoiceField(choices=PLACES_AFTER, widget=forms.HiddenInput)
    operating_key_turned = forms.BooleanField(
        label="The operating key turns freely and comes out",
        error_messages={"required": "Turn the operating key before you finish."},
    )
    control_key_came_out = forms.BooleanField(
        label="The core is held fast and the control key is out",
        error_messages={"required": "Make sure that the core is held and the control key is out."},
    )
    egress_and_latch_tried = forms.BooleanField(
        label="The way out and the latch work",
        error_messages={"required": "Try the way out and the latch before you finish."},
    )
    note = forms.CharField(required=False, max_length=400, label="Note")
