"""What is typed into a rotation. The services decide."""

from collections.abc import Mapping, Sequence
from typing import Any
from uuid import UUID

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from keyctl.lib.forms import ServiceForm, VersionForm
from keyctl.lib.language import Text
from keyctl.places.models import Site
from keyctl.rotations.models import Rotation
from keyctl.systems.models import KeySymbol

EQUALS = "="
MOST_NAMED = 10


def _number(
    label: Text, initial: int | None, most: int, help_text: Text = "", least: int = 1
) -> forms.IntegerField:
    return forms.IntegerField(
        label=label,
        initial=initial,
        min_value=least,
        max_value=most,
        required=initial is not None,
        help_text=help_text,
    )


def _allowed() -> forms.IntegerField:
    return _number(
        gettext_lazy("Working days with two keys, at most"),
        None,
        250,
        gettext_lazy(
            "From the first to the last door of a key, whoever uses it carries the old and the new one."
        ),
    )


class TermsForm(VersionForm):
    allowed_days = _allowed()
    people = _number(gettext_lazy("People in the crew"), 1, 50)
    hours_a_day = _number(gettext_lazy("Hours of work a day"), 7, 24)
    bench_minutes = _number(gettext_lazy("Minutes to pin a core at the bench"), 8, 240)

    def __init__(self, *args: Any, seen: Rotation, **kwargs: Any) -> None:
        super().__init__(*args, seen=seen, **kwargs)
        for name in ("allowed_days", "people", "hours_a_day", "bench_minutes"):
            self.fields[name].initial = getattr(seen, name)


class SparesForm(VersionForm):
    """One field for each format, how many free cores go round."""

    def __init__(self, *args: Any, seen: Any, free: Mapping[str, int], **kwargs: Any) -> None:
        super().__init__(*args, seen=seen, **kwargs)
        self.free = dict(free)
        for nth, (name, count) in enumerate(self.free.items()):
            self.fields[f"spares_{nth}"] = _spares(name, count, 0)

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or self.cleaned_data
        return _with_spares(facts, list(self.free))


class StartForm(ServiceForm):
    """The keys, one line each; ``old_keys`` are those of the area."""

    title = forms.CharField(
        max_length=120,
        label=gettext_lazy("What it is"),
        help_text=gettext_lazy("For instance: West wing, new keys."),
    )
    keys = forms.CharField(
        label=gettext_lazy("Old key = new key"),
        widget=forms.Textarea(attrs={"rows": 10, "spellcheck": "false", "class": "code"}),
        help_text=gettext_lazy(
            "One line for each old key: code of the system and symbol, then the same of the new one. No cuts."
        ),
    )
    allowed_days = _allowed()
    people = _number(gettext_lazy("People in the crew"), 1, 50)
    hours_a_day = _number(gettext_lazy("Hours of work a day"), 7, 24)
    bench_minutes = _number(gettext_lazy("Minutes to pin a core at the bench"), 8, 240)

    def __init__(
        self, *args: Any, site: Site, old_keys: Sequence[KeySymbol], free: Mapping[str, int], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.site, self.old_keys, self.free = site, old_keys, dict(free)
        for nth, (name, count) in enumerate(self.free.items()):
            self.fields[f"spares_{nth}"] = _spares(name, count, count)

    def clean_keys(self) -> dict[UUID, KeySymbol]:
        old = {_name(key): key for key in self.old_keys}
        wanted, wrong = _lines(self.cleaned_data["keys"], set(old))
        new = {_name(key): key for key in _named(self.site, set(wanted.values()))}
        wrong += [
            _("There is no key “{name}” at this site.").format(name=name)
            for name in wanted.values()
            if name not in new
        ]
        if wrong:
            raise ValidationError(wrong[:MOST_NAMED])
        return {old[before].pk: new[after] for before, after in wanted.items()}

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or self.cleaned_data
        return _with_spares(facts, list(self.free))


class ReasonForm(ServiceForm):
    reason = forms.CharField(label=gettext_lazy("Why"), max_length=200)


class CancelForm(VersionForm):
    reason = forms.CharField(label=gettext_lazy("Why it ends here"), max_length=400)


class BackForm(ServiceForm):
    """Tags by the scanner, one a line, and ticks."""

    tags = forms.CharField(
        label=gettext_lazy("Cores that are back"),
        required=False,
        widget=forms.Textarea(attrs={"rows": 3, "autocomplete": "off", "spellcheck": "false"}),
        help_text=gettext_lazy("Scan or type their tags, one a line."),
    )

    def clean_tags(self) -> list[str]:
        ticked = self.data.getlist("tag") if isinstance(self.data, QueryDict) else []
        return [*str(self.cleaned_data["tags"]).split(), *map(str, ticked)]


def lines_of(old_keys: Sequence[KeySymbol], proposed: Mapping[UUID, KeySymbol]) -> str:
    """The text to begin with: where nothing is proposed, the line waits for its right side."""
    return "\n".join(
        f"{_name(key)} {EQUALS} {_name(proposed[key.pk]) if key.pk in proposed else ''}".rstrip()
        for key in old_keys
    )


def _spares(name: str, free: int, most: int) -> forms.IntegerField:
    hint = ngettext("{count} is free here.", "{count} are free here.", free).format(count=free)
    field = _number(_("Spare cores: {name}").format(name=name), min(free, most), max(free, 0), hint, least=0)
    field.required = most > 0
    return field


def _with_spares(facts: dict[str, Any], formats: Sequence[str]) -> dict[str, Any]:
    facts["spares"] = {name: facts.pop(f"spares_{nth}", None) or 0 for nth, name in enumerate(formats)}
    return facts


def _lines(text: str, old: set[str]) -> tuple[dict[str, str], list[str]]:
    wanted, wrong = dict[str, str](), list[str]()
    for line in text.splitlines():
        if not line.strip():
            continue
        before, sign, after = (" ".join(part.split()) for part in line.partition(EQUALS))
        if not sign or not after:
            wrong.append(_("“{value}” names no new key.").format(value=line.strip()[:40]))
        elif before not in old:
            wrong.append(_("“{before}” is no key of these doors.").format(before=before[:40]))
        else:
            wanted[before] = after
    return wanted, wrong


def _named(site: Site, names: set[str]) -> list[KeySymbol]:
    symbols = {name.rpartition(" ")[2] for name in names}
    rows = KeySymbol.objects.filter(system__in=site.key_systems.all(), symbol__in=symbols)
    return [key for key in rows.select_related("system") if _name(key) in names]


def _name(key: KeySymbol) -> str:
    return f"{key.system.code} {key.symbol}"
