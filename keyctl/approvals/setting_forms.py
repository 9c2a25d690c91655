"""What administrators type about requests at their site."""

from typing import Any

from django import forms

from keyctl.approvals.models import MOST_COLLECT_DAYS, RequestSettings
from keyctl.keys.models import Cabinet
from keyctl.lib.forms import ServiceForm
from keyctl.places.models import Site


class SettingsForm(ServiceForm):
    critical_doors = forms.ChoiceField(
        label="Who may ask for critical doors",
        choices=RequestSettings.Critical,
        widget=forms.RadioSelect,
        help_text="Besides those who work with the estate. To anybody else a critical door does not exist.",
    )
    collect_days = forms.IntegerField(
        label="Days to collect",
        min_value=1,
        max_value=MOST_COLLECT_DAYS,
        help_text="Keys that nobody collects go back into stock after so many days.",
    )
    collect_at = forms.CharField(
        label="Where and when",
        max_length=200,
        required=False,
        help_text="Whoever collects keys reads it: the desk, its house, its hours.",
    )
    cabinet = forms.ModelChoiceField(
        Cabinet.objects.none(),
        label="Cabinet for cut copies",
        required=False,
        empty_label="The first of the site",
        help_text="Copies that are cut on a request go into it.",
    )
    names_deciders = forms.BooleanField(
        label="Askers read who decided, by name",
        required=False,
        help_text="Otherwise they read in which role.",
    )

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        cabinets = self.fields["cabinet"]
        assert isinstance(cabinets, forms.ModelChoiceField)  # noqa: S101 (tells the type checker)
        cabinets.queryset = Cabinet.objects.filter(site=site)
