"""Asking for a list of a whole system, of a site or of a building."""

from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy, pgettext_lazy

from keyctl.lib.forms import ServiceForm
from keyctl.places.models import Building, Site
from keyctl.prints.lists.contents import CONTENTS
from keyctl.prints.models import Export

WORDS = {
    Export.Kind.DOORS: gettext_lazy(
        "Every lock of every door: name, rooms, class, way out and fire, the core in it and the keys "
        "that turn it by the pins. No bitting."
    ),
    Export.Kind.CHART: gettext_lazy(
        "Cores against keys on large sheets: a sign for what each key does by the pins, and where "
        "that is not as planned. No bitting."
    ),
    Export.Kind.BINDER: gettext_lazy(
        "For whoever takes over: doors, lock charts, keys and who holds them, open orders, the "
        "control key, and what the signs mean, with contents and bookmarks."
    ),
}


class ReasonForm(ServiceForm):
    form = forms.ChoiceField(
        label=pgettext_lazy("a list as PDF or as a table", "As"),
        choices=Export.Form.choices,
        widget=forms.RadioSelect,
        initial="pdf",
    )
    reason = forms.CharField(
        label=gettext_lazy("Why do you need it?"),
        max_length=200,
        help_text=gettext_lazy(
            "It stands on the list, in the register and in history. Write no bitting here."
        ),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def __init__(self, *args: Any, kind: Export.Kind, **kwargs: Any) -> None:
        # Several of them stand on one page.
        kwargs["auto_id"] = f"{kind.value}-%s"
        super().__init__(*args, **kwargs)
        self.kind = kind

    def choose_from(self, name: str, rows: "QuerySet[Any]") -> None:
        field = self.fields[name]
        assert isinstance(field, forms.ModelChoiceField)  # noqa: S101 (tells the type checker)
        field.queryset = rows


class ExportForm(ReasonForm):
    site = forms.ModelChoiceField(Site.objects.none(), label=gettext_lazy("Site"), empty_label=None)
    field_order = ("site", "form", "reason")

    def __init__(self, *args: Any, sites: "QuerySet[Site]", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.choose_from("site", sites)


class PlaceExportForm(ReasonForm):
    building = forms.ModelChoiceField(
        Building.objects.none(),
        label=gettext_lazy("Building"),
        required=False,
        empty_label=gettext_lazy("The whole site"),
    )
    with_bittings = forms.BooleanField(
        label=gettext_lazy("With the bittings of its keys"),
        required=False,
        help_text=gettext_lazy(
            "Only where whoever takes over will cut keys. A second person must permit it."
        ),
    )
    field_order = ("building", "form", "with_bittings", "reason")

    def __init__(self, *args: Any, site: Site, may_see: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.choose_from("building", site.buildings.order_by("code"))
        if self.kind != Export.Kind.BINDER or not may_see:
            del self.fields["with_bittings"]
        if CONTENTS[self.kind].sheet is None:
            self.fields["form"].widget = forms.HiddenInput()

    @property
    def words(self) -> str:
        return str(WORDS[self.kind])
