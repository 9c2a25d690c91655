"""What people say about work orders: which ones they look for, and new ones."""

import re
from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.cores.models import Core
from keyctl.keys.models import Cabinet
from keyctl.lib.forms import ServiceForm
from keyctl.orders.models import MOST_COPIES, WorkOrder
from keyctl.places.models import Door, Housing, Site
from keyctl.systems.models import KeySymbol, KeySystem

UNFINISHED = "unfinished"
DAY = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


class OrderFilter(forms.Form):
    state = forms.ChoiceField(
        label=gettext_lazy("State"),
        choices=[
            ("", gettext_lazy("Every state")),
            (UNFINISHED, gettext_lazy("Not finished")),
            *WorkOrder.State.choices,
        ],
        required=False,
    )
    kind = forms.ChoiceField(
        label=gettext_lazy("Kind"),
        choices=[("", gettext_lazy("Every kind of work")), *WorkOrder.Kind.choices],
        required=False,
    )
    whose = forms.ChoiceField(
        label=gettext_lazy("Whose"),
        choices=[
            ("", gettext_lazy("Everybody's")),
            ("mine", gettext_lazy("Mine")),
            ("nobody", gettext_lazy("Nobody's yet")),
        ],
        required=False,
    )
    due = forms.ChoiceField(
        label=gettext_lazy("Due"),
        choices=[
            ("", gettext_lazy("Whenever due")),
            ("late", gettext_lazy("Late")),
            ("week", gettext_lazy("Due within a week")),
        ],
        required=False,
    )

    def chosen(self) -> dict[str, str]:
        """An unknown word in the address filters nothing."""
        self.is_valid()
        return {name: self.cleaned_data.get(name, "") for name in self.fields}


class NewOrder(ServiceForm):
    title = forms.CharField(max_length=160, label=gettext_lazy("What is it for?"))
    due_on = forms.DateField(required=False, label=gettext_lazy("Due on"), widget=DAY)


class NewPinOrder(NewOrder):
    def __init__(self, *args: Any, choices: QuerySet[Core], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["title"].help_text = _("Stands on the pinning sheet: name no door and no key here.")
        self.fields["cores"] = forms.ModelMultipleChoiceField(
            queryset=choices, error_messages={"required": _("Choose at least one core.")}
        )


class NewSwapOrder(NewOrder):
    def __init__(self, *args: Any, choices: QuerySet[Housing], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["housings"] = forms.ModelMultipleChoiceField(
            queryset=choices, label=_("Doors"), error_messages={"required": _("Choose at least one door.")}
        )


class NewCutOrder(NewOrder):
    """Beside every key stands a box for its number, named ``count-`` and the key; empty boxes cut nothing."""

    prefix_of_counts = "count-"

    def __init__(
        self, *args: Any, keys: QuerySet[KeySymbol], cabinets: QuerySet[Cabinet], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.keys = keys
        self.fields["cabinet"] = forms.ModelChoiceField(
            queryset=cabinets,
            label=_("Into the cabinet"),
            empty_label=None,
            error_messages={"required": _("Choose the cabinet that the copies go into.")},
        )

    @classmethod
    def typed_counts(cls, data: Mapping[str, Any]) -> dict[UUID, str]:
        """What was typed into the boxes; a name that holds no key is nobody's box."""
        boxes = {name.removeprefix(cls.prefix_of_counts): data[name] for name in data if cls._is_box(name)}
        return {UUID(pk): text.strip() for pk, text in boxes.items() if text.strip() not in {"", "0"}}

    @classmethod
    def _is_box(cls, name: str) -> bool:
        return bool(re.fullmatch(cls.prefix_of_counts + r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}", name))

    def clean(self) -> dict[str, Any]:
        said = dict(super().clean() or self.cleaned_data)
        typed = self.typed_counts(self.data)
        found = self.keys.in_bulk(typed)
        if len(found) < len(typed):
            raise forms.ValidationError(_("One of these keys is no longer here. Look at the list again."))
        return said | {"counts": {found[pk]: self._number(found[pk], text) for pk, text in typed.items()}}

    def _number(self, symbol: KeySymbol, text: str) -> int:
        if text.isdecimal() and len(text) <= len(str(MOST_COPIES)):
            return int(text)
        raise forms.ValidationError(
            _("Say in figures how many copies of {symbol}: 1 to {most_copies}.").format(
                symbol=symbol, most_copies=MOST_COPIES
            )
        )


class NewInspectOrder(NewOrder):
    def __init__(self, *args: Any, choices: QuerySet[Door], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["doors"] = forms.ModelMultipleChoiceField(
            queryset=choices, error_messages={"required": _("Choose at least one door.")}
        )


class NewDecodeOrder(NewOrder):
    def __init__(self, *args: Any, choices: QuerySet[Core], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["cores"] = forms.ModelMultipleChoiceField(
            queryset=choices, error_messages={"required": _("Choose at least one core.")}
        )


class NewLockOut(NewOrder):
    asked_by = forms.CharField(max_length=120, label=gettext_lazy("Who asked for it?"))
    until = forms.DateField(label=gettext_lazy("Shut until"), widget=DAY)

    def __init__(self, *args: Any, choices: QuerySet[Housing], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["housings"] = forms.ModelMultipleChoiceField(
            queryset=choices, label=_("Doors"), error_messages={"required": _("Choose at least one door.")}
        )


class NewRecoverOrder(NewOrder):
    system = forms.ModelChoiceField(
        queryset=KeySystem.objects.none(), label=gettext_lazy("Whose control key is lost?"), empty_label=None
    )

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["system"].queryset = site.key_systems.all()  # type: ignore[attr-defined]
