"""Which keys a core shall be keyed to."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.bench.forms.choosing import TAG
from keyctl.cores.models import Core
from keyctl.lib.forms import ServiceForm
from keyctl.systems.models import KeySymbol
from keyctl.systems.selectors import LINE

MOST_SYMBOLS = 50


class ChooseSymbols(ServiceForm):
    """Symbols of the core's own system, typed with commas between them."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    symbols = forms.CharField(
        max_length=400,
        label=gettext_lazy("Keys it shall be keyed to"),
        help_text=gettext_lazy("With commas between several. The masters above them come by themselves."),
        widget=forms.TextInput(attrs=TAG),
        error_messages={"required": gettext_lazy("Name one key symbol at least.")},
    )

    def __init__(self, *args: Any, core: Core, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.core = core

    def clean_symbols(self) -> list[KeySymbol]:
        wanted = dict.fromkeys(self.cleaned_data["symbols"].upper().replace(",", " ").split())
        if not 1 <= len(wanted) <= MOST_SYMBOLS:
            raise forms.ValidationError(
                _("Name between 1 and {most_symbols} key symbols.").format(most_symbols=MOST_SYMBOLS)
            )
        rows = KeySymbol.objects.filter(system=self.core.system, symbol__in=wanted).select_related(LINE)
        found = {symbol.symbol: symbol for symbol in rows}
        if missing := [name for name in wanted if name not in found]:
            raise forms.ValidationError(
                _("{system} has no key {missing}. Read it again.").format(
                    system=self.core.system, missing=", ".join(missing)
                )
            )
        return [found[name] for name in wanted]
