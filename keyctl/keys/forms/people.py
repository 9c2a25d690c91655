"""Holders and cabinets."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.keys.forms.fields import offer
from keyctl.keys.models import Cabinet, Holder, KeyCopy, PersonKind
from keyctl.lib.forms import ServiceForm
from keyctl.places.models import Site
from keyctl.places.selectors import people_at


class HolderForm(ServiceForm):
    name = forms.CharField(label=gettext_lazy("Name"), max_length=120)
    email = forms.EmailField(
        label=gettext_lazy("E-mail"),
        required=False,
        help_text=gettext_lazy("Tells two people of the same name apart."),
    )
    department = forms.CharField(label=gettext_lazy("Department or company"), max_length=120, required=False)
    kind = forms.ChoiceField(
        label=gettext_lazy("Kind"),
        choices=PersonKind.choices,
        required=False,
        help_text=gettext_lazy("Says how long a key stays out where nobody names a day."),
    )

    def __init__(self, *args: Any, holder: Holder | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if holder:
            self.initial = {name: getattr(holder, name) for name in self.fields}

    def clean_kind(self) -> str:
        return str(self.cleaned_data["kind"] or PersonKind.STAFF)


class ReasonForm(ServiceForm):
    note = forms.CharField(
        label=gettext_lazy("Why"), max_length=400, required=False, widget=forms.Textarea(attrs={"rows": 3})
    )


class NewCabinetForm(ServiceForm):
    name = forms.CharField(label=gettext_lazy("What stands on it"), max_length=60)
    custodian = forms.ModelChoiceField(
        User.objects.none(),
        label=gettext_lazy("In the care of"),
        required=False,
        empty_label=gettext_lazy("Nobody"),
    )

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer(self, "custodian", people_at(site))


class NameForm(ServiceForm):
    name = forms.CharField(label=gettext_lazy("What stands on it"), max_length=60)


class CustodianForm(ServiceForm):
    to = forms.ModelChoiceField(
        User.objects.none(),
        label=gettext_lazy("In the care of"),
        required=False,
        empty_label=gettext_lazy("Nobody"),
    )

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer(self, "to", people_at(site))


class MoveForm(ServiceForm):
    """Copies of one cabinet, ticked on its page, and the cabinet they hang in from now on."""

    copies = forms.ModelMultipleChoiceField(KeyCopy.objects.none(), label=gettext_lazy("Copies"))
    cabinet = forms.ModelChoiceField(
        Cabinet.objects.none(), label=gettext_lazy("Into the cabinet"), empty_label=None
    )

    def __init__(self, *args: Any, source: Cabinet, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer(self, "copies", KeyCopy.objects.filter(cabinet=source))
        offer(self, "cabinet", source.site.cabinets.exclude(pk=source.pk))
