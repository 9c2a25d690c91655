"""What a person narrows the estate to."""

from typing import Any

from django import forms

from keyctl.accounts.models import User
from keyctl.places.access import visible_buildings, visible_sites
from keyctl.places.models import Building, Site


class EstateFilter(forms.Form):
    """A wrong or foreign choice narrows nothing: an old link still shows the estate."""

    q = forms.CharField(required=False, max_length=80)
    site = forms.ModelChoiceField(Site.objects.none(), required=False)
    building = forms.ModelChoiceField(Building.objects.none(), required=False)

    def __init__(self, actor: User, data: Any) -> None:
        super().__init__(data)
        self.fields["site"].queryset = visible_sites(actor)  # type: ignore[attr-defined]
        self.fields["building"].queryset = visible_buildings(actor)  # type: ignore[attr-defined]
        self.is_valid()

    @property
    def text(self) -> str:
        return str(self.cleaned_data.get("q") or "")

    @property
    def chosen_building(self) -> Building | None:
        return self.cleaned_data.get("building")

    @property
    def chosen_site(self) -> Site | None:
        """The chosen site, or that of the chosen building."""
        building = self.chosen_building
        return building.site if building else self.cleaned_data.get("site")
