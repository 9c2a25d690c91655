"""What people say while they work on orders: at the door, at the bench, and of the order as a whole."""

from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.lib.forms import ServiceForm
from keyctl.lib.language import in_sentence
from keyctl.orders.checklists import Point
from keyctl.orders.models import Check, KeyTried, OrderLine
from keyctl.orders.selectors import core_by_tag
from keyctl.orders.services import KeyDue

PLACES_AFTER = [
    (Core.Place.BENCH.value, gettext_lazy("On the bench, to be pinned again")),
    (Core.Place.SHELF.value, gettext_lazy("On the shelf")),
    (Core.Place.CASE.value, gettext_lazy("In my case")),
]


class ChooseCore(ServiceForm):
    """A core from the list, or the tag on the core in one's hand; the tag wins."""

    core = forms.UUIDField(required=False, label=gettext_lazy("Core"))
    tag = forms.CharField(
        required=False,
        max_length=200,
        label=gettext_lazy("Tag on the core"),
        help_text=gettext_lazy("Type or scan it: that is the surest way."),
        widget=forms.TextInput(
            attrs={
                "class": "code",
                "autocomplete": "off",
                "autocapitalize": "characters",
                "spellcheck": "false",
                "autofocus": True,
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
        raise forms.ValidationError(
            _("No core at {site} has this tag. Read it again.").format(site=self.line.order.site)
        )

    def _by_choice(self, pk: UUID | None) -> Core:
        if pk is None:
            raise forms.ValidationError(_("Choose the core that goes in, or type the tag it carries."))
        if core := self.choices.filter(pk=pk).first():
            return core
        raise forms.ValidationError(_("That core can no longer go in here. Choose another one."))


class Checks(ServiceForm):
    """What was seen at the door, where the old core goes, and that the new one was tried."""

    core_in_id = forms.UUIDField(widget=forms.HiddenInput)
    core_in_version = forms.IntegerField(widget=forms.HiddenInput)
    core_out_id = forms.UUIDField(widget=forms.HiddenInput, required=False)
    put_at = forms.ChoiceField(
        choices=PLACES_AFTER,
        label=gettext_lazy("Where does the core that came out go?"),
        widget=forms.RadioSelect,
        error_messages={"required": gettext_lazy("Say where the core that came out goes.")},
    )
    operating_key_turned = forms.BooleanField(
        label=gettext_lazy("The operating key turns freely and comes out"),
        error_messages={"required": gettext_lazy("Turn the operating key before you finish.")},
    )
    control_key_came_out = forms.BooleanField(
        label=gettext_lazy("The core is held fast and the control key is out"),
        error_messages={
            "required": gettext_lazy("Make sure that the core is held and the control key is out.")
        },
    )
    egress_and_latch_tried = forms.BooleanField(
        label=gettext_lazy("The way out and the latch work"),
        error_messages={"required": gettext_lazy("Try the way out and the latch before you finish.")},
    )
    note = forms.CharField(required=False, max_length=400, label=gettext_lazy("Note"))


class LetWait(ServiceForm):
    reason = forms.CharField(
        max_length=200,
        label=gettext_lazy("What does it wait for?"),
        error_messages={"required": gettext_lazy("Say what it waits for.")},
    )


class Assign(ServiceForm):
    to = forms.ModelChoiceField(
        queryset=User.objects.none(),
        required=False,
        label=gettext_lazy("Who does it?"),
        empty_label=gettext_lazy("Nobody yet"),
    )

    def __init__(self, *args: Any, smiths: QuerySet[User], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["to"].queryset = smiths  # type: ignore[attr-defined]


class AllowWaysOut(ServiceForm):
    word = forms.CharField(
        max_length=300,
        label=gettext_lazy("Why may they be shut, and which way out do people have instead?"),
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={
            "required": gettext_lazy("Say why these doors may be shut, and which way out people have.")
        },
    )


class ChangeUntil(ServiceForm):
    until = forms.DateField(
        label=gettext_lazy("Shut until"),
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text=gettext_lazy("For a later day a security officer gives their word for ways out anew."),
    )


class Unreached(ServiceForm):
    reason = forms.CharField(
        max_length=200,
        label=gettext_lazy("Why could the door not be reached?"),
        error_messages={"required": gettext_lazy("Say why the door could not be reached.")},
    )


class Checklist(ServiceForm):
    """A row of three choices for each point of the door."""

    prefix_of_points = "point-"

    def __init__(self, *args: Any, points: Sequence[Point], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.points = points
        for point in points:
            self.fields[self.prefix_of_points + point.key] = forms.ChoiceField(
                label=point.label,
                choices=Check.Found.choices,
                widget=forms.RadioSelect,
                error_messages={"required": _("Say how this is.")},
            )
        self.fields["note"] = forms.CharField(required=False, max_length=400, label=_("Note"))

    def clean(self) -> dict[str, Any]:
        said = dict(super().clean() or self.cleaned_data)
        names = {point.key: self.prefix_of_points + point.key for point in self.points}
        items = {key: said[name] for key, name in names.items() if name in said}
        return {"items": items, "note": said.get("note", "")}


class TryOutForm(ServiceForm):
    """What each key did. The first is the core's own; a key that is not at hand may be left out."""

    prefix_of_keys = "key-"

    def __init__(self, *args: Any, due: Sequence[KeyDue], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.due = due
        for nth, key in enumerate(due):
            self.fields[self.prefix_of_keys + str(key.symbol.pk)] = forms.ChoiceField(
                label=f"{key.symbol}, {in_sentence(key.symbol.get_kind_display())}",
                choices=[*KeyTried.Effect.choices, *([("", _("Not at hand"))] if nth else [])],
                required=nth == 0,
                widget=forms.RadioSelect,
                error_messages={"required": _("Say what this key did: it is the core's own.")},
            )
        self.fields["tag"] = forms.CharField(
            max_length=200,
            label=_("Tag on the core, once more"),
            help_text=_("Scan or type it, so that it is this core that was tried."),
            widget=forms.TextInput(attrs={"class": "code", "autocomplete": "off", "spellcheck": "false"}),
            error_messages={"required": _("Read the tag on the core once more.")},
        )

    def clean(self) -> dict[str, Any]:
        said = dict(super().clean() or self.cleaned_data)
        found = {key.symbol.pk: said.get(self.prefix_of_keys + str(key.symbol.pk), "") for key in self.due}
        return {"tag": said.get("tag", ""), "found": {pk: did for pk, did in found.items() if did}}


class LetGo(ServiceForm):
    why = forms.CharField(
        max_length=300,
        label=gettext_lazy("Why does it leave untried?"),
        error_messages={"required": gettext_lazy("Say why the core leaves untried.")},
    )


class FindLine(forms.Form):
    """The tag on the core that somebody takes up at the bench."""

    tag = forms.CharField(
        max_length=200,
        label=gettext_lazy("Tag on the core"),
        widget=forms.TextInput(
            attrs={"class": "code", "autocomplete": "off", "spellcheck": "false", "autofocus": True}
        ),
        error_messages={"required": gettext_lazy("Scan or type the tag on the core.")},
    )
