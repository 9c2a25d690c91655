"""What people type while they count. The services decide; forms only read."""

from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.counts.access import WITNESSES
from keyctl.counts.models import Count, CountCase, CountRule
from keyctl.counts.services.cases import INTO_A_CABINET, ways_out
from keyctl.counts.services.counting import MOST_SAMPLED
from keyctl.keys.forms import HolderField
from keyctl.keys.models import Cabinet, KeyCopy
from keyctl.lib.forms import ServiceForm
from keyctl.places.models import Site
from keyctl.places.selectors import people_at

Scope, Subject = Count.Scope, CountRule.Subject
SOUGHT = [
    (Subject.MASTERS, gettext_lazy("Master and control keys")),
    (Subject.CRITICAL, gettext_lazy("Keys that open critical doors")),
    (Subject.ALL, gettext_lazy("Every key of the site")),
]


def staff_of(site: Site, *, but: User) -> QuerySet[User]:
    """Who may watch a count of somebody else."""
    return people_at(site, *WITNESSES).exclude(pk=but.pk)


class WitnessForm(ServiceForm):
    """Beginning a count that waits."""

    witness = forms.ModelChoiceField(
        label=gettext_lazy("Witness"),
        queryset=User.objects.none(),
        required=False,
        empty_label=gettext_lazy("Nobody"),
        help_text=gettext_lazy("They watch, and confirm it under their own name before the count is closed."),
    )

    def __init__(self, *args: Any, site: Site, actor: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _offer(self, "witness", staff_of(site, but=actor))


class StartForm(WitnessForm):
    """The questions of one kind of count; the page has a link for each kind."""

    asks = {
        Scope.CABINET: ("cabinet",),
        Scope.HOLDER: ("holder",),
        Scope.KEYS: ("subject", "serials"),
        Scope.SAMPLE: ("subject", "sample_size"),
    }

    cabinet = forms.ModelChoiceField(
        Cabinet.objects.none(),
        label=gettext_lazy("Cabinet"),
        empty_label=gettext_lazy("Choose a cabinet"),
    )
    holder = HolderField(
        label=gettext_lazy("Holder"),
        max_length=120,
        help_text=gettext_lazy("The name or e-mail address as registered."),
    )
    subject = forms.ChoiceField(label=gettext_lazy("Which keys"), choices=SOUGHT)
    serials = forms.CharField(
        label=gettext_lazy("Serials"),
        required=False,
        max_length=9000,
        widget=forms.Textarea(attrs={"rows": 4, "class": "code", "spellcheck": "false"}),
        help_text=gettext_lazy("One in each line, where the keys are those of a list."),
    )
    sample_size = forms.IntegerField(
        label=gettext_lazy("How many"),
        min_value=1,
        max_value=MOST_SAMPLED,
        help_text=gettext_lazy("Drawn at random from these keys."),
    )

    field_order = ("cabinet", "holder", "subject", "serials", "sample_size", "witness")

    def __init__(self, *args: Any, site: Site, scope: str, **kwargs: Any) -> None:
        super().__init__(*args, site=site, **kwargs)
        self.scope = Scope(scope)
        _offer(self, "cabinet", site.cabinets.select_related("site"))
        holder = self.fields["holder"]
        assert isinstance(holder, HolderField)  # noqa: S101 (tells the type checker)
        holder.site = site
        for name in set(self.fields) - {*self.asks[self.scope], "witness"}:
            del self.fields[name]
        if self.scope == Scope.KEYS:
            subject = self.fields["subject"]
            assert isinstance(subject, forms.ChoiceField)  # noqa: S101 (tells the type checker)
            subject.choices, subject.required = [*SOUGHT, ("", _("Those of the list below"))], False


class ScanForm(ServiceForm):
    """A keyboard wedge types a serial and presses Enter; a pasted list has one in each line."""

    text = forms.CharField(
        label=gettext_lazy("Serial of the key"),
        max_length=8000,
        required=False,
        widget=forms.TextInput(
            attrs={
                "class": "code",
                "autocomplete": "off",
                "autocapitalize": "characters",
                "spellcheck": "false",
                "autofocus": True,
                "enterkeyhint": "done",
                "data-scan": "",
            }
        ),
    )


class CancelForm(ServiceForm):
    note = forms.CharField(label=gettext_lazy("Why it is given up"), max_length=400)


class DeclareForm(ServiceForm):
    """The holder ticks what they have; nothing is ticked for them."""

    copies = forms.ModelMultipleChoiceField(
        KeyCopy.objects.none(), label=gettext_lazy("I have these keys"), widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, *args: Any, copies: QuerySet[KeyCopy], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _offer(self, "copies", copies)


class ExplainForm(ServiceForm):
    version = forms.IntegerField(widget=forms.HiddenInput)
    how = forms.ChoiceField(label=gettext_lazy("How it came about"), widget=forms.RadioSelect)
    cabinet = forms.ModelChoiceField(
        Cabinet.objects.none(),
        label=gettext_lazy("Into the cabinet"),
        required=False,
        empty_label=gettext_lazy("No cabinet"),
    )
    note = forms.CharField(
        label=gettext_lazy("What happened"),
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=gettext_lazy("And who said so. Write no bitting here."),
    )

    def __init__(self, *args: Any, case: CountCase, actor: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["version"].initial = case.version
        ways = ways_out(actor, case)
        field = self.fields["how"]
        assert isinstance(field, forms.ChoiceField)  # noqa: S101 (tells the type checker)
        field.choices = [(how.value, how.label) for how in ways]
        _offer(self, "cabinet", case.count.site.cabinets.select_related("site"))
        self.fields["cabinet"].initial = case.count.cabinet
        if not set(ways) & set(INTO_A_CABINET):
            del self.fields["cabinet"]


class CaseForm(ServiceForm):
    version = forms.IntegerField(widget=forms.HiddenInput)


class RuleForm(ServiceForm):
    seen = forms.IntegerField(widget=forms.HiddenInput, initial=0)
    interval_months = forms.IntegerField(
        label=gettext_lazy("Every how many months"), min_value=1, max_value=60, initial=12
    )
    counters = forms.ChoiceField(
        label=gettext_lazy("Who counts"),
        choices=CountRule.Counters.choices,
        initial=CountRule.Counters.EITHER,
    )
    missing_days = forms.IntegerField(
        label=gettext_lazy("Days until a missing key is proposed as lost"),
        min_value=1,
        max_value=365,
        initial=14,
    )
    retention_days = forms.IntegerField(
        label=gettext_lazy("Days that records are kept"), min_value=1, max_value=36500, initial=1095
    )
    needs_witness = forms.BooleanField(label=gettext_lazy("A witness is needed"), required=False)
    accepts_declared = forms.BooleanField(
        label=gettext_lazy("A holder’s own word counts as seen"), required=False
    )
    on_new_custodian = forms.BooleanField(
        label=gettext_lazy("A new custodian forces a count"), required=False
    )
    blocks_issuing = forms.BooleanField(
        label=gettext_lazy("Nothing is issued until that count is done"), required=False
    )
    source = forms.CharField(
        label=gettext_lazy("Source"),
        max_length=400,
        required=False,
        help_text=gettext_lazy("The regulation or policy that says so."),
    )

    def __init__(self, *args: Any, subject: str, rule: CountRule | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if rule:
            self.initial = {name: getattr(rule, name) for name in self.fields if hasattr(rule, name)}
            self.initial["seen"] = rule.number
        if subject != Subject.CABINETS:
            del self.fields["on_new_custodian"], self.fields["blocks_issuing"]
        if subject != Subject.HOLDERS:
            del self.fields["accepts_declared"]


class ExcuseForm(ServiceForm):
    excuse = forms.CharField(label=gettext_lazy("Why they do not sign"), max_length=200)


def _offer(form: forms.Form, name: str, rows: Any) -> None:
    field = form.fields[name]
    assert isinstance(field, forms.ModelChoiceField)  # noqa: S101 (tells the type checker)
    field.queryset = rows
