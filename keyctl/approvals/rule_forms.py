"""What administrators type about rules, and people about who decides in their place."""

from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.approvals.deciders import WORKERS
from keyctl.approvals.models import MOST_SILENT_HOURS, ApprovalRule, Deciders
from keyctl.keys.forms import DayInput
from keyctl.lib.forms import ServiceForm
from keyctl.places.models import Building, Door, Site
from keyctl.places.selectors import people_at

CLASSES = [
    ("", gettext_lazy("Not about a class")),
    (Door.DoorClass.RESTRICTED.value, gettext_lazy("Restricted, and critical too")),
    (Door.DoorClass.CRITICAL.value, gettext_lazy("Critical")),
]


class People(forms.ModelMultipleChoiceField):  # type: ignore[type-arg]  # not subscriptable when it runs
    widget = forms.CheckboxSelectMultiple


class FirstRuleForm(ServiceForm):
    """The building's people always decide first: only their hours can be changed."""

    silent_hours = forms.IntegerField(
        label=gettext_lazy("Hours of silence"),
        min_value=1,
        max_value=MOST_SILENT_HOURS,
        help_text=gettext_lazy(
            "After so many hours without a decision they are reminded; after as many again, others are "
            "asked. Nothing is approved by silence."
        ),
    )


class RuleForm(FirstRuleForm):
    when = forms.ChoiceField(label=gettext_lazy("When"), choices=ApprovalRule.When)
    level = forms.IntegerField(
        label=gettext_lazy("Level"),
        required=False,
        min_value=0,
        max_value=20,
        help_text=gettext_lazy(
            "Only for a rule about a level: 0 is a top key, 1 the masters right below it."
        ),
    )
    door_class = forms.ChoiceField(
        label=gettext_lazy("Class of doors"),
        required=False,
        choices=CLASSES,
        help_text=gettext_lazy("Only for a rule about a class of doors."),
    )
    extra = forms.IntegerField(
        label=gettext_lazy("Extra doors"),
        required=False,
        min_value=1,
        max_value=30000,
        help_text=gettext_lazy(
            "Only for a rule about doors that nobody asked for: from how many on it holds."
        ),
    )
    who = forms.ChoiceField(label=gettext_lazy("Who decides"), choices=Deciders)
    people = People(
        User.objects.none(),
        label=gettext_lazy("Named people"),
        required=False,
        help_text=gettext_lazy("Only where named people decide: any one of them suffices."),
    )
    is_apart = forms.BooleanField(
        label=gettext_lazy("By somebody who decided no earlier step (two people)"), required=False
    )
    field_order = ("when", "level", "door_class", "extra", "who", "people", "is_apart", "silent_hours")

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        people = self.fields["people"]
        assert isinstance(people, People)  # noqa: S101 (tells the type checker)
        people.queryset = staff_of(site)

    def clean(self) -> dict[str, Any]:
        facts = dict(super().clean() or self.cleaned_data)
        facts["people"] = list(facts.get("people") or ())
        return facts


class SubstituteForm(ServiceForm):
    person = forms.ModelChoiceField(
        User.objects.none(), label=gettext_lazy("For whom"), empty_label=gettext_lazy("Choose a person")
    )
    stands_in = forms.ModelChoiceField(
        User.objects.none(),
        label=gettext_lazy("Who decides in their place"),
        empty_label=gettext_lazy("Choose a person"),
        help_text=gettext_lazy(
            "Somebody who holds the same role at the site. Nobody decides in a person’s place about what "
            "that person asks for or gets."
        ),
    )
    building = forms.ModelChoiceField(
        Building.objects.none(),
        label=gettext_lazy("Building"),
        required=False,
        empty_label=gettext_lazy("All of their buildings here"),
    )
    since = forms.DateField(label=gettext_lazy("First day"), widget=DayInput())
    until = forms.DateField(label=gettext_lazy("Last day"), widget=DayInput())

    def __init__(self, *args: Any, site: Site, actor: User, names_anybody: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._offer("stands_in", staff_of(site) if names_anybody else staff_of(site).exclude(pk=actor.pk))
        self._offer("building", Building.objects.filter(site=site))
        self.actor, self.names_anybody = actor, names_anybody
        if names_anybody:
            self._offer("person", staff_of(site))
        else:
            del self.fields["person"]

    def clean(self) -> dict[str, Any]:
        facts = dict(super().clean() or self.cleaned_data)
        if not self.names_anybody:
            facts["person"] = self.actor
        return facts

    def _offer(self, name: str, rows: "QuerySet[Any]") -> None:
        choice = self.fields[name]
        assert isinstance(choice, forms.ModelChoiceField)  # noqa: S101 (tells the type checker)
        choice.queryset = rows


def staff_of(site: Site) -> QuerySet[User]:
    return people_at(site, *WORKERS)
