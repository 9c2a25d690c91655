"""What people say about proofs: of what, and how long a finding may stay."""

from collections.abc import Mapping
from datetime import timedelta
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.cores.proof import Kind
from keyctl.lib.forms import ServiceForm
from keyctl.places.models import Site
from keyctl.proofs.access import may_prove_all, provable_sites, provable_systems
from keyctl.proofs.models import LONGEST_WORDS, Cause
from keyctl.proofs.selectors import GONE, VIEWS

WHOLE = "estate"
USUAL_DAYS = 90


class ProveForm(ServiceForm):
    """What to prove: the whole estate, a site or a system, as far as one's roles reach."""

    of = forms.ChoiceField(label=gettext_lazy("What shall be proved?"))

    def __init__(self, *args: Any, actor: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._sites = {f"site-{site.pk}": site for site in provable_sites(actor)}
        self._systems = {f"system-{system.pk}": system for system in provable_systems(actor)}
        field = self.fields["of"]
        assert isinstance(field, forms.ChoiceField)  # noqa: S101 (tells the type checker)
        whole = [(WHOLE, _("The whole estate"))] if may_prove_all(actor) else []
        groups = [
            (_("A site"), [(name, str(site)) for name, site in self._sites.items()]),
            (_("A system"), [(name, f"{system.code}, {system}") for name, system in self._systems.items()]),
        ]
        field.choices = [*whole, *(group for group in groups if group[1])]

    def clean(self) -> dict[str, Any]:
        facts = dict(super().clean() or self.cleaned_data)
        chosen = facts.pop("of", "")
        return {"site": self._sites.get(chosen), "system": self._systems.get(chosen)}


class AcceptForm(ServiceForm):
    reason = forms.CharField(
        label=gettext_lazy("Why may it stay as it is?"),
        max_length=LONGEST_WORDS,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=gettext_lazy("Stands in the history. Write no cuts and no pins."),
    )
    until = forms.DateField(
        label=gettext_lazy("Until when?"),
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text=gettext_lazy("It opens again after this day, and as soon as the core is pinned anew."),
        initial=lambda: timezone.localdate() + timedelta(days=USUAL_DAYS),
    )


class FindingFilter(forms.Form):
    view = forms.ChoiceField(
        label=gettext_lazy("Show"),
        required=False,
        choices=[
            *((name, label) for name, (label, _) in VIEWS.items()),
            (GONE, gettext_lazy("Gone since the last proof")),
        ],
    )
    kind = forms.ChoiceField(label=gettext_lazy("Kind"), required=False)
    cause = forms.ChoiceField(
        label=gettext_lazy("Cause"),
        choices=[("", gettext_lazy("Every cause")), *Cause.choices],
        required=False,
    )
    state = forms.ChoiceField(
        label=gettext_lazy("State"),
        choices=[
            ("", gettext_lazy("Every state")),
            ("open", gettext_lazy("Open")),
            ("accepted", gettext_lazy("Accepted")),
        ],
        required=False,
    )
    site = forms.ModelChoiceField(
        Site.objects.none(),
        label=gettext_lazy("Site"),
        required=False,
        empty_label=gettext_lazy("Every site"),
    )

    def __init__(self, data: Mapping[str, Any], *, sites: QuerySet[Site]) -> None:
        super().__init__(data)
        kinds, site = self.fields["kind"], self.fields["site"]
        assert isinstance(kinds, forms.ChoiceField)  # noqa: S101 (tells the type checker)
        assert isinstance(site, forms.ModelChoiceField)  # noqa: S101
        kinds.choices = [
            ("", _("Every kind")),
            *((kind.value, _("Key {effect}").format(effect=kind.label)) for kind in Kind),
        ]
        site.queryset = sites

    def chosen(self) -> dict[str, str]:
        """An unknown word in the address filters nothing."""
        self.is_valid()
        names = [name for name in self.fields if name != "site"]
        return {name: self.cleaned_data.get(name, "") for name in names}

    @property
    def chosen_site(self) -> Site | None:
        self.is_valid()
        found: Site | None = self.cleaned_data.get("site")
        return found
