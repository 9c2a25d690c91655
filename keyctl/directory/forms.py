"""What is typed about people and their lists. The services decide."""

from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.directory.access import registrar_sites
from keyctl.directory.columns import FIELDS, shown_headings
from keyctl.directory.facts import Facts
from keyctl.directory.models import MissingPerson, PeopleList
from keyctl.keys.models import Holder, Person, PersonKind
from keyctl.lib.forms import ServiceForm
from keyctl.lib.language import Text
from keyctl.lib.listforms import ColumnsForm, TableField, with_content
from keyctl.lib.sheets import Sheet

IS_FULL = gettext_lazy(
    "It is a full list: whoever came by a list and is missing from this one is proposed as leaving"
)


class BringForm(ServiceForm):
    file = TableField()
    is_full = forms.BooleanField(label=IS_FULL, required=False)

    def clean(self) -> dict[str, Any]:
        return with_content(dict(super().clean() or self.cleaned_data))


class PeopleColumnsForm(ColumnsForm):
    def __init__(self, *args: Any, seen: PeopleList, sheet: Sheet, **kwargs: Any) -> None:
        ticks: dict[str, Text] = {"has_header": _("The first row holds headings"), "is_full": IS_FULL}
        names = shown_headings(sheet, seen.has_header)
        super().__init__(*args, seen=seen, names=names, labels=FIELDS, ticks=ticks, **kwargs)


class MissingForm(ServiceForm):
    """Who of the missing is meant, and how many, where they are many."""

    confirmed = forms.IntegerField(
        label=gettext_lazy("Many at once: type how many leave"), required=False, min_value=0
    )

    def __init__(self, *args: Any, missing: "QuerySet[MissingPerson]", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["missing"] = forms.ModelMultipleChoiceField(
            missing.filter(state=MissingPerson.State.PROPOSED), required=False
        )


class PersonForm(ServiceForm):
    display_name = forms.CharField(label=gettext_lazy("Name"), max_length=120)
    user_name = forms.CharField(
        label=gettext_lazy("User name"),
        max_length=150,
        required=False,
        help_text=gettext_lazy("Of the identity provider, if there is one."),
    )
    external_id = forms.CharField(
        label=gettext_lazy("Identifier in the other system"), max_length=150, required=False
    )
    email = forms.EmailField(label=gettext_lazy("E-mail"), required=False)
    department = forms.CharField(label=gettext_lazy("Department"), max_length=120, required=False)
    kind = forms.ChoiceField(label=gettext_lazy("Kind"), choices=PersonKind.choices)

    def clean(self) -> dict[str, Any]:
        said = dict(super().clean() or self.cleaned_data)
        return {"facts": Facts(**said)} if not self.errors else {}


class LeaveForm(ServiceForm):
    note = forms.CharField(label=gettext_lazy("Note"), max_length=400, required=False)


class RegisterForm(ServiceForm):
    def __init__(self, *args: Any, actor: User, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.sites = registrar_sites(actor, person)
        self.fields["site"] = forms.ModelChoiceField(self.sites, label=_("At which site?"), empty_label=None)


class TieForm(ServiceForm):
    def __init__(self, *args: Any, alike: list[Holder], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.alike = alike
        self.fields["holder"] = forms.ModelChoiceField(
            Holder.objects.filter(pk__in=[holder.pk for holder in alike]).select_related("site"),
            label=_("Which holder?"),
            empty_label=None,
        )
