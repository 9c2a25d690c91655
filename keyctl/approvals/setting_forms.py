"""What administrators type about requests at their site."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from keyctl.approvals.models import MOST_COLLECT_DAYS, RequestSettings
from keyctl.keys.models import Cabinet
from keyctl.lib.forms import ServiceForm
from keyctl.places.models import Site


class SettingsForm(ServiceForm):
    critical_doors = forms.ChoiceField(
        label=gettext_lazy("Who may ask for critical doors"),
        choices=RequestSettings.Critical,
        widget=forms.RadioSelect,
        help_text=gettext_lazy(
            "Besides those who work with the estate. To anybody else a critical door does not exist."
        ),
    )
    collect_days = forms.IntegerField(
        label=gettext_lazy("Days to collect"),
        min_value=1,
        max_value=MOST_COLLECT_DAYS,
        help_text=gettext_lazy("Keys that nobody collects go back into stock after so many days."),
    )
    collect_at = forms.CharField(
        label=gettext_lazy("Where and when"),
        max_length=200,
        required=False,
        help_text=gettext_lazy("Whoever collects keys reads it: the desk, its house, its hours."),
    )
    cabinet = forms.ModelChoiceField(
        Cabinet.objects.none(),
        label=gettext_lazy("Cabinet for cut copies"),
        required=False,
        empty_label=gettext_lazy("The first of the site"),
        help_text=gettext_lazy("Copies that are cut on a request go into it."),
    )
    names_deciders = forms.BooleanField(
        label=gettext_lazy("Askers read who decided, by name"),
        required=False,
        help_text=gettext_lazy("Otherwise they read in which role."),
    )

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        cabinets = self.fields["cabinet"]
        assert isinstance(cabinets, forms.ModelChoiceField)  # noqa: S101 (tells the type checker)
        cabinets.queryset = Cabinet.objects.filter(site=site)
