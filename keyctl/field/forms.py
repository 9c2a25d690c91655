"""Forms about tablets, what they told, and cases."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.field.access import field_sites
from keyctl.lib.forms import ServiceForm


class RegisterForm(ServiceForm):
    name = forms.CharField(
        label=gettext_lazy("Name of this tablet"),
        max_length=60,
        help_text=gettext_lazy("As it stands on its back, or as you call it."),
    )

    def __init__(self, *args: Any, actor: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        sites = field_sites(actor)
        self.fields["site"] = forms.ModelChoiceField(
            queryset=sites,
            initial=sites.first(),
            label=_("Site"),
            help_text=_("Its administrators look after the tablet."),
            required=False,
            empty_label=None,
        )

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        facts["site"] = facts.get("site") or self.fields["site"].initial
        return facts


class RenameForm(ServiceForm):
    name = forms.CharField(label=gettext_lazy("Name"), max_length=60)


class WithdrawForm(ServiceForm):
    reason = forms.CharField(
        label=gettext_lazy("Why it is withdrawn"),
        max_length=200,
        help_text=gettext_lazy("Lost, stolen, broken, given to somebody else."),
    )


class HandInForm(forms.Form):
    file = forms.FileField(label=gettext_lazy("The file that the tablet exported"))
