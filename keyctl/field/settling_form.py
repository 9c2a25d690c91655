"""The form that settles a case: a row for each core, and for whoever gives way to one."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django import forms
from django.db.models import Q
from django.utils.translation import gettext, gettext_lazy

from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.cores.services import Whereabouts
from keyctl.field.models import ReconcileCase
from keyctl.field.services import NOWHERE_KNOWN
from keyctl.lib.errors import Refused
from keyctl.lib.forms import ServiceForm
from keyctl.lib.identifiers import read_uuid
from keyctl.lib.tags import clean_tag
from keyctl.places.models import Door, Housing
from keyctl.places.roles import Role

UNCHOSEN, ANOTHER_DOOR, NOWHERE = "", "another", "nowhere"
WHERE, DOOR = "where_", "door_"


@dataclass(frozen=True)
class Row:
    core: Core
    where: forms.BoundField
    door: forms.BoundField


class SettleForm(ServiceForm):
    note = forms.CharField(
        label=gettext_lazy("How it is known"),
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=gettext_lazy(
            "Who looked, when, and what was found. The history keeps it beside the stories."
        ),
    )
    stories_seen = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, case: ReconcileCase, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.case = case
        self.fields["stories_seen"].initial = case.stories.count()
        self.own = set(case.case_cores.values_list("core_id", flat=True))
        self.cores = {core.pk: core for core in _cores_of(case, self.data)}
        self.housings = {body.pk: body for body in _housings_of(case)}
        self.people = {person.pk: person for person in _locksmiths(case)}
        for core in self.cores.values():
            self._add(core)

    def _add(self, core: Core) -> None:
        self.cores[core.pk] = core
        self.fields[f"{WHERE}{core.pk}"] = forms.ChoiceField(
            label=gettext("Where core {core} really is").format(core=core),
            choices=self._choices(core),
            required=False,
        )
        self.fields[f"{DOOR}{core.pk}"] = forms.CharField(
            label=gettext("Which other door"),
            max_length=60,
            required=False,
            help_text=gettext("Its tag or its number."),
        )

    def _choices(self, core: Core) -> list[tuple[str, str]]:
        fitting = [body for body in self.housings.values() if body.construction == core.construction]
        doors = [(f"housing:{body.pk}", gettext("In {place}").format(place=body)) for body in fitting]
        cases = [
            (f"case:{person.pk}", gettext("In the case of {person}").format(person=person))
            for person in self.people.values()
        ]
        return [
            (UNCHOSEN, gettext("Choose what somebody has seen")),
            *doors,
            (ANOTHER_DOOR, gettext("In another door")),
            ("shelf", gettext("On the shelf")),
            ("bench", gettext("On the bench")),
            *cases,
            ("gone", gettext("Gone")),
            (NOWHERE, gettext("Nobody knows where")),
        ]

    def rows(self) -> list[Row]:
        return [
            Row(core, self[f"{WHERE}{core.pk}"], self[f"{DOOR}{core.pk}"]) for core in self.cores.values()
        ]

    def clean(self) -> dict[str, Any]:
        told = super().clean() or {}
        places = self._places(told)
        self._ask_for_pushed_out(places)
        return {"places": places, "note": told.get("note", ""), "stories_seen": told.get("stories_seen")}

    def _places(self, told: dict[str, Any]) -> dict[Core, Whereabouts]:
        """Of the case's own cores, and of those that give way to one; a row that was asked for by an answer
        that is another one now is passed over."""
        places: dict[Core, Whereabouts] = {}
        left = dict(self.cores)
        while due := [core for core in left.values() if self._is_due(core, places)]:
            for core in due:
                del left[core.pk]
                try:
                    places[core] = self._place(told, core)
                except Refused as refusal:
                    self.add_error(None, refusal.message)
        return places

    def _is_due(self, core: Core, places: dict[Core, Whereabouts]) -> bool:
        wanted = {where.housing.pk for where in places.values() if where.housing}
        return core.pk in self.own or core.housing_id in wanted

    def _place(self, told: dict[str, Any], core: Core) -> Whereabouts:
        kind, _, rest = (told.get(f"{WHERE}{core.pk}") or "").partition(":")
        pk = read_uuid(rest)
        if kind == UNCHOSEN:
            raise Refused(gettext("Say of core {core} where it really is.").format(core=core))
        if kind == NOWHERE:
            return NOWHERE_KNOWN
        if kind == ANOTHER_DOOR:
            return Whereabouts("housing", housing=self._door(told.get(f"{DOOR}{core.pk}", ""), core))
        return Whereabouts(
            kind,
            housing=self.housings[pk] if kind == "housing" and pk else None,
            carrier=self.people[pk] if kind == "case" and pk else None,
        )

    def _door(self, text: str, core: Core) -> Housing:
        """The one housing of the door that takes such a core."""
        named = Q(number__iexact=text.strip()) | Q(tag=clean_tag(text.rsplit("/", 1)[-1]))
        doors = Door.objects.filter(named, floor__building__site=self.case.site)
        fitting = Housing.objects.filter(door__in=doors, construction=core.construction)
        found = list(fitting.select_related("door__floor__building__site")[:2])
        if not text.strip() or len(found) != 1:
            raise Refused(
                gettext(
                    "“{strip}” names no single door that takes core {core}. Give the tag on the door."
                ).format(strip=text.strip(), core=core)
            )
        return found[0]

    def _ask_for_pushed_out(self, places: dict[Core, Whereabouts]) -> None:
        wanted = [where.housing for where in places.values() if where.housing]
        held = Core.objects.with_places().filter(housing__in=wanted, disputed_at=None)
        for core in held.exclude(pk__in=self.cores):
            self._add(core)
            self.add_error(
                None,
                gettext("By the register core {core} is in {housing}. Say where it is as well.").format(
                    core=core, housing=core.housing
                ),
            )


def _cores_of(case: ReconcileCase, data: Any) -> Sequence[Core]:
    """Those of the case, and those that a row was added for."""
    told = [read_uuid(name.removeprefix(WHERE)) for name in data if name.startswith(WHERE)]
    own: list[UUID] = list(case.case_cores.values_list("core_id", flat=True))
    added = Q(pk__in=[pk for pk in told if pk], site=case.site, disputed_at=None)
    return list(Core.objects.with_places().filter(Q(pk__in=own) | added).order_by("disputed_at", "tag"))


def _housings_of(case: ReconcileCase) -> list[Housing]:
    named = case.case_housings.values("housing")
    return list(Housing.objects.filter(pk__in=named).select_related("door__floor__building__site"))


def _locksmiths(case: ReconcileCase) -> list[User]:
    rows = User.objects.filter(memberships__site=case.site, memberships__role=Role.LOCKSMITH)
    return list(rows.order_by("display_name"))
