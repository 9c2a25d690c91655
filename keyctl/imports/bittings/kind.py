"""The kind: what a bitting list writes, and how it is taken away again.

No row of an import holds a cut: of a key it knows the symbol and that there is one.
"""

from collections.abc import Iterator, Sequence
from uuid import UUID

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.cores.turning import KeyFamily
from keyctl.imports.kinds import Fault, Given, Kind, Planned
from keyctl.imports.models import Import
from keyctl.imports.records import Deed, Records
from keyctl.imports.tables.corewriting import CORES
from keyctl.inherited.access import BRINGERS
from keyctl.inherited.models import BittingList
from keyctl.lib.errors import Conflict, Refused
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.versions.models import SystemVersion

BITTINGS = "bittings"


class SystemRecords(Records):
    def remove(self, deed: Deed, pks: Sequence[UUID]) -> None:
        """Its versions are pictures of it, and go with it; the list keeps the code that it was to have."""
        for system in KeySystem.objects.filter(pk__in=pks):
            BittingList.objects.filter(system=system).update(system=None, code=system.code)
        SystemVersion.objects.filter(system__in=pks).delete()
        super().remove(deed, pks)


class SymbolRecords(Records):
    def remove(self, _deed: Deed, pks: Sequence[UUID]) -> None:
        """Keys before their masters, while no core is pinned that they might turn."""
        rows = KeySymbol.objects.filter(pk__in=pks)
        for system in KeySystem.objects.filter(symbols__in=rows).distinct():
            KeyFamily.of(system).hold()
        levels = sorted({level or 0 for level in rows.values_list("level", flat=True)}, reverse=True)
        rows.filter(level=None).delete()
        for level in levels:
            rows.filter(level=level).delete()


SYSTEMS = SystemRecords(
    "systems",
    gettext_lazy("Key systems"),
    KeySystem,
    parts=("inherited.BittingList", "versions.SystemVersion", "exposure.IncidentalCount"),
)
SYMBOLS = SymbolRecords(BITTINGS, "Keys", KeySymbol, parts=("cores.Turn", "proofs.Finding"))


def refuse_undo(imported: Import) -> None:
    if BittingList.objects.filter(pk=imported.counts.get("list"), state=BittingList.State.WRITING).exists():
        raise Conflict(_("The list is not written to its end yet. Go on with its job first."))


def plan_bittings(_given: Given) -> Iterator[Planned | Fault]:
    raise Refused(_("A bitting list is tried on its own page."))


BITTING_LIST = Kind(
    name=BITTINGS,
    label=gettext_lazy("Bittings"),
    hint=gettext_lazy("The bitting list of a key system, checked on pages of its own."),
    takers=BRINGERS,
    things=(SYSTEMS, SYMBOLS, CORES),
    main=BITTINGS,
    plan=plan_bittings,
    is_brought_here=False,
    refuse_undo=refuse_undo,
)
