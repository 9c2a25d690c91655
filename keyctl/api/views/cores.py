"""Cores: which there are, where each is, and what each is keyed to."""

from collections.abc import Sequence
from typing import Any

from django.db.models import QuerySet
from rest_framework.serializers import ValidationError

from keyctl.api import selectors
from keyctl.api.models import Scope
from keyctl.api.selectors import Filters
from keyctl.api.serializers.core_facts import CoreChangeSerializer, NewCoreSerializer
from keyctl.api.serializers.cores import CoreFilters, CoreSerializer
from keyctl.api.views.base import described
from keyctl.api.views.writing import Bulk, Changes, Facts, one_of, written
from keyctl.cores import services
from keyctl.cores.models import Core
from keyctl.places.access import visible_sites
from keyctl.systems.models import KeySymbol, KeySystem


@described("Cores", "One core", CoreSerializer, CoreFilters)
@written("a core", new=NewCoreSerializer, change=CoreChangeSerializer)
class Cores(Bulk, Changes):
    """Cores by their tags: system, format, what each is keyed to and where it is.

    How a core is pinned is in no answer, and no program says it. One that is no more is gone, never removed.
    """

    queryset = Core.objects.none()
    serializer_class = CoreSerializer
    filters_class = CoreFilters
    is_walked = True
    scopes = {"GET": Scope.ESTATE_READ, "POST": Scope.ESTATE_WRITE, "PATCH": Scope.ESTATE_WRITE}
    detail_route = "core"

    def rows(self, filters: Filters) -> QuerySet[Core]:
        return selectors.cores(self.actor, filters)

    def make(self, facts: Facts) -> Core:
        site = one_of(visible_sites(self.actor), facts["site"], "site")
        system = self._system(facts["system"])
        return services.register_core(
            actor=self.actor, site=site, system=system, symbols=symbols_of(system, facts["keyed_to"])
        )

    def change(self, row: Core, facts: Facts) -> None:
        if keying := self._keying(row, facts):
            row = services.correct_core(actor=self.actor, core=row, version=row.version, **keying)
        if facts.get("place", row.place) != row.place:
            services.move_core(actor=self.actor, core=row, version=row.version, place=facts["place"])

    def _keying(self, row: Core, facts: Facts) -> dict[str, Any] | None:
        """What it is to be keyed to; nothing where that is so already."""
        if "keyed_to" not in facts:
            if "system" in facts:
                raise ValidationError({"system": ["Send keyed_to with it: symbols belong to a system."]})
            return None
        system = self._system(facts["system"]) if "system" in facts else row.system
        if system is None:
            raise ValidationError({"system": ["This core is of no system yet: name one."]})
        symbols = symbols_of(system, facts["keyed_to"])
        is_so = row.system_id == system.pk and {each.pk for each in row.keyed_to.all()} == {
            each.pk for each in symbols
        }
        return None if is_so else {"system": system, "symbols": symbols}

    def _system(self, code: str) -> KeySystem:
        found = (
            KeySystem.objects.at_sites(visible_sites(self.actor)).defer("design").filter(code=code).first()
        )
        if found is None:
            raise ValidationError({"system": [f"This token reaches no key system {code}."]})
        return found


def symbols_of(system: KeySystem, names: Sequence[str]) -> list[KeySymbol]:
    """The keys of these names in this order; each that is none of the system, or told twice, by its place."""
    found = {
        key.symbol: key for key in KeySymbol.objects.defer("bitting").filter(system=system, symbol__in=names)
    }
    wrong: dict[Any, Any] = {
        place: [f"{system.code} has no key called {name}." if name not in found else f"Named twice: {name}."]
        for place, name in enumerate(names)
        if name not in found or name in names[:place]
    }
    if wrong:
        raise ValidationError({"keyed_to": wrong})
    return [found[name] for name in names]
