"""What the requester, the manager and the desk type. The services decide; forms only read."""

from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.approvals.models import Grant
from keyctl.approvals.services import NO_SUCH_DOOR
from keyctl.keys.forms import DayInput, HolderField
from keyctl.keys.models import KeyCopy
from keyctl.keys.selectors import copies_in_cabinet
from keyctl.lib.forms import ServiceForm
from keyctl.places.models import Building, Door, DoorQuerySet

MYSELF, OTHER = "myself", "other"


class AskForm(ServiceForm):
    doors = forms.ModelMultipleChoiceField(
        Door.objects.none(),
        label=gettext_lazy("Doors"),
        error_messages={
            "required": gettext_lazy("Choose at least one door."),
            "invalid_choice": NO_SUCH_DOOR,
            "invalid_pk_value": NO_SUCH_DOOR,
        },
    )
    for_whom = forms.ChoiceField(
        label=gettext_lazy("Who is the key for?"),
        choices=[(MYSELF, gettext_lazy("For me")), (OTHER, gettext_lazy("For somebody else"))],
        widget=forms.RadioSelect,
        initial=MYSELF,
    )
    holder = HolderField(
        label=gettext_lazy("Who else"),
        max_length=120,
        required=False,
        help_text=gettext_lazy(
            "Only for somebody else: the whole name, or the e-mail address, as the key desk knows it."
        ),
    )
    reason = forms.CharField(
        label=gettext_lazy("What for"), max_length=400, widget=forms.Textarea(attrs={"rows": 3})
    )
    starts_on = forms.DateField(
        label=gettext_lazy("Needed from"),
        required=False,
        widget=DayInput(),
        help_text=gettext_lazy("Left empty: as soon as it is ready."),
    )
    needed_until = forms.DateField(
        label=gettext_lazy("Needed until"),
        required=False,
        widget=DayInput(),
        help_text=gettext_lazy("The key is due back on this day."),
    )

    def __init__(self, *args: Any, building: Building, known: DoorQuerySet, **kwargs: Any) -> None:
        """``known`` are the doors that whoever asks may know of: no other one can be chosen."""
        super().__init__(*args, **kwargs)
        doors, holder = self.fields["doors"], self.fields["holder"]
        assert isinstance(doors, forms.ModelMultipleChoiceField)  # noqa: S101 (tells the type checker)
        assert isinstance(holder, HolderField)  # noqa: S101 (tells the type checker)
        doors.queryset = known.with_places()
        holder.site, holder.takes_a_part = building.site, False

    def clean(self) -> dict[str, Any]:
        facts = dict(super().clean() or self.cleaned_data)
        is_other = facts.pop("for_whom", MYSELF) == OTHER
        if is_other and not facts.get("holder") and "holder" not in self.errors:
            self.add_error("holder", _("Say whom the key is for."))
        if not is_other:
            facts["holder"] = None
        if "doors" in facts:
            facts["doors"] = list(facts["doors"])
        return facts


class ApproveForm(ServiceForm):
    """The first decision: it chooses the keys by the name of the proposal that the page showed."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    rules = forms.CharField(max_length=40, required=False, widget=forms.HiddenInput)
    proposal = forms.CharField(
        label=gettext_lazy("Which keys"),
        max_length=40,
        error_messages={"required": gettext_lazy("Choose which keys to give.")},
    )
    note = forms.CharField(label=gettext_lazy("Note"), max_length=400, required=False)


class ApproveStepForm(ServiceForm):
    """A further decision, about keys that are chosen."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    keys = forms.CharField(max_length=40, widget=forms.HiddenInput)
    note = forms.CharField(label=gettext_lazy("Note"), max_length=400, required=False)


class RefuseForm(ServiceForm):
    version = forms.IntegerField(widget=forms.HiddenInput)
    note = forms.CharField(
        label=gettext_lazy("Note"),
        max_length=400,
        error_messages={"required": gettext_lazy("Say why you refuse: whoever asked reads the note.")},
    )


class CopyInCabinet(forms.ModelChoiceField):  # type: ignore[type-arg]  # not subscriptable when it runs
    def label_from_instance(self, copy: KeyCopy) -> str:
        return _("{copy}, in {cabinet}").format(copy=copy, cabinet=copy.cabinet)


class GrantForm(ServiceForm):
    copy = CopyInCabinet(
        KeyCopy.objects.none(),
        label=gettext_lazy("Which copy"),
        widget=forms.RadioSelect,
        empty_label=None,
        error_messages={
            "required": gettext_lazy("Choose the copy that you hand out."),
            "invalid_choice": gettext_lazy("This copy is no longer in a cabinet. Choose another."),
        },
    )
    signed_as = forms.CharField(
        label=gettext_lazy("Signature"),
        max_length=120,
        help_text=gettext_lazy("The person who takes the key types their own name."),
    )

    def __init__(self, *args: Any, grant: Grant, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        copies = self.fields["copy"]
        assert isinstance(copies, CopyInCabinet)  # noqa: S101 (tells the type checker)
        copies.queryset = self.stock = self._stock(grant)
        if len(self.stock) == 1:
            copies.initial = self.stock[0].pk

    def _stock(self, grant: Grant) -> QuerySet[KeyCopy]:
        return copies_in_cabinet(grant.symbol, grant.request.building.site)
