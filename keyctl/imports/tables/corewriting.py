"""Cores as imports write them: by the rules and services of a core's page."""

from collections.abc import Iterable, Mapping
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext_lazy

from keyctl.cores.models import Core, Keying
from keyctl.cores.services import locked_cores, move_core, rekey_cores
from keyctl.cores.services.placing import put_core
from keyctl.imports.records import Deed, Records, Values, Written
from keyctl.lib.errors import Refused
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol, KeySystem


class CoreRecords(Records):
    """New ones in bulk, under the locksmith's role; what changes goes core by core through its service."""

    def create(self, deed: Deed, rows: Mapping[UUID, Values]) -> Written:
        if not rows:
            return Written()
        require_role(deed.actor, deed.imported.site, Role.LOCKSMITH)
        refused = _retired(rows)
        super().create(deed, {pk: values for pk, values in rows.items() if pk not in refused})
        return Written(refused)

    def change(self, deed: Deed, rows: Mapping[UUID, Values]) -> Written:
        written = Written()
        for pk, values in rows.items():
            try:
                with transaction.atomic():
                    _change(deed, pk, values)
            except Refused as refused:
                written.refused[pk] = " ".join(refused.sentences)
        return written

    def restore(self, _deed: Deed, rows: Mapping[UUID, Values]) -> None:
        """Back where it was. Its version goes on: whoever saw it in between must look again."""
        for pk, core in locked_cores(rows).items():
            values = rows[pk]
            if "place" in values:
                core.housing_id = values.get("housing_id", core.housing_id)
                put_core(core, values["place"], carrier=_deed.actor)
            else:
                Core.objects.filter(pk=pk).update(version=core.version + 1)
            if "keyed_to" in values:
                Keying.objects.filter(core=core).delete()
                Keying.objects.bulk_create(Keying(core=core, symbol_id=each) for each in values["keyed_to"])


def _change(deed: Deed, pk: UUID, values: Mapping[str, Any]) -> None:
    core = locked_cores([pk])[pk]
    if "keyed_to" in values and core.system:
        symbols = list(KeySymbol.objects.filter(pk__in=values["keyed_to"]))
        rekey_cores(actor=deed.actor, site=deed.imported.site, system=core.system, keyings={core.pk: symbols})
        core.refresh_from_db()
    if "place" in values:
        move_core(actor=deed.actor, core=core, version=core.version, place=values["place"])


def _retired(rows: Mapping[UUID, Values]) -> dict[UUID, str]:
    """Cores keyed to a key that was retired after the dry run."""
    wanted = {key for values in rows.values() for key in values["keyed_to"]}
    retired = KeySymbol.objects.filter(pk__in=wanted, retired_at__isnull=False)
    gone = {str(pk) for pk in retired.values_list("pk", flat=True)}
    return {
        pk: "A key that it is keyed to is retired after a loss"
        for pk, values in rows.items()
        if gone & set(values["keyed_to"])
    }


def loaded_systems(site: Site) -> dict[str, KeySystem]:
    """The site's key systems by their codes in any case."""
    return {system.code.casefold(): system for system in KeySystem.objects.filter(sites=site)}


def by_symbol(wanted: Iterable[tuple[UUID, str]]) -> dict[tuple[UUID, str], KeySymbol]:
    """By system and the name as it was written; a name is the same in capitals."""
    pairs = set(wanted)
    names = {name for _, name in pairs} | {name.upper() for _, name in pairs}
    rows = KeySymbol.objects.filter(system__in={system for system, _ in pairs}, symbol__in=names)
    known = {(row.system_id, row.symbol): row for row in rows.defer("bitting")}
    found = {pair: known.get(pair) or known.get((pair[0], pair[1].upper())) for pair in pairs}
    return {pair: symbol for pair, symbol in found.items() if symbol}


CORES = CoreRecords(
    "cores",
    gettext_lazy("Cores"),
    Core,
    {
        "tag": "Tag",
        "format_id": "Format",
        "place": gettext_lazy("Where it is"),
        "keyed_to": gettext_lazy("Keyed to"),
        "housing_id": "Lock",
    },
    parts=("cores.Keying", "cores.Turn", "proofs.Finding", "exposure.CoreExposure"),
)
