"""What a reconstruction is asked of, and the system made of it."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.formats.selectors import offered_formats
from keyctl.inherited.access import readable_sites
from keyctl.inherited.selectors import decoded_cores, offered_cores
from keyctl.inherited.services import Asked
from keyctl.lib.forms import ServiceForm
from keyctl.lib.tags import clean_tag
from keyctl.places.models import Site

CODE = {"class": "code", "autocomplete": "off", "spellcheck": "false"}


def lines(rows: int) -> forms.Textarea:
    return forms.Textarea(attrs=CODE | {"rows": rows})


class WhereForm(forms.Form):
    """Where the cores lie and how they are built; then comes the page of that site."""

    def __init__(self, *args: Any, actor: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["site"] = forms.ModelChoiceField(
            readable_sites(actor), label=_("At which site?"), empty_label=None
        )
        self.fields["format"] = forms.ChoiceField(label=_("Format of the cores"), choices=offered_formats())


class ReconstructForm(ServiceForm):
    """Cores on record, ticked or by tag, and what was read elsewhere, typed."""

    def __init__(self, *args: Any, site: Site, format_id: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.site, self.format_id = site, format_id
        choices = [(str(core.pk), f"{core}, {core.whereabouts}") for core in offered_cores(site, format_id)]
        self.fields["format"] = forms.CharField(widget=forms.HiddenInput, initial=format_id)
        self.fields["ticked"] = forms.MultipleChoiceField(
            label=_("Cores of no system whose pins are on record"),
            choices=choices,
            # Without a box to tick the question would stand there alone.
            widget=forms.CheckboxSelectMultiple if choices else forms.MultipleHiddenInput,
            required=False,
        )
        self.fields["tags"] = forms.CharField(
            label=_("Tags of other cores whose pins are on record"),
            widget=lines(2),
            max_length=8000,
            required=False,
            help_text=_("One a line, or with commas between them."),
        )
        self.fields["typed"] = forms.CharField(
            label=_("Cores read elsewhere"),
            widget=lines(5),
            max_length=40_000,
            required=False,
            help_text=_(
                "One a line: a name, a colon, the cuts position by position; then, after strokes, the "
                "control key and the part of the house."
            ),
        )
        self.fields["keys"] = forms.CharField(
            label=_("Keys in circulation"),
            widget=lines(3),
            max_length=20_000,
            required=False,
            help_text=_("One a line: a name, a colon, the cuts."),
        )
        self.fields["next_cores"] = forms.CharField(
            label=_("Cores you could decode next"),
            widget=lines(2),
            max_length=20_000,
            required=False,
            help_text=_("One a line; after a stroke, the part of the house."),
        )
        self.fields["reason"] = forms.CharField(
            label=_("Why do you need to see this?"), max_length=200, widget=forms.TextInput
        )

    def clean(self) -> dict[str, Any]:
        said = dict(super().clean() or self.cleaned_data)
        asked = Asked(
            site=self.site,
            format_id=self.format_id,
            cores=self._cores(said),
            typed=said.get("typed", ""),
            keys=said.get("keys", ""),
            next_cores=said.get("next_cores", ""),
        )
        return {"asked": asked, "reason": said.get("reason", "")}

    def _cores(self, said: dict[str, Any]) -> Sequence[Core]:
        tags = [
            clean_tag(text) for text in said.get("tags", "").replace(",", "\n").split("\n") if text.strip()
        ]
        here = decoded_cores(self.site, self.format_id)
        found = {core.tag: core for core in here.filter(tag__in=tags)}
        if missing := [tag for tag in tags if tag not in found]:
            self.add_error(
                "tags",
                _("No core here has pins of this format and the tag {missing}.").format(missing=missing[0]),
            )
        ticked = here.filter(pk__in=said.get("ticked", []))
        return list({core.pk: core for core in (*ticked, *found.values())}.values())


class MakeForm(ReconstructForm):
    """The same once more, and which candidate becomes a system under which name."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("auto_id", "make_%s")
        super().__init__(*args, **kwargs)
        del self.fields["reason"]
        for name in ("ticked", "tags", "typed", "keys", "next_cores"):
            hidden = forms.MultipleHiddenInput if name == "ticked" else forms.HiddenInput
            self.fields[name].widget = hidden()
        self.fields["candidate"] = forms.IntegerField(min_value=0, max_value=19, widget=forms.HiddenInput)
        self.fields["share"] = forms.CharField(max_length=20, widget=forms.HiddenInput)
        self.fields["code"] = forms.CharField(
            label=_("Code of the new system"), max_length=20, widget=forms.TextInput(attrs=CODE)
        )
        self.fields["name"] = forms.CharField(label=_("Its name"), max_length=120)
        self.fields["keyway"] = forms.CharField(
            label=_("Its keyway"), max_length=20, widget=forms.TextInput(attrs=CODE)
        )

    def clean(self) -> dict[str, Any]:
        said = dict(self.cleaned_data)
        facts = ("candidate", "share", "code", "name", "keyway")
        return {"asked": super().clean()["asked"]} | {name: said.get(name) for name in facts}
