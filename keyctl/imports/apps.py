"""Trying, taking and undoing imports is long work; each kind of import names itself here."""

from datetime import timedelta

from django.apps import AppConfig
from django.utils.translation import gettext_lazy


class ImportsConfig(AppConfig):
    name = "keyctl.imports"

    def ready(self) -> None:
        from keyctl.imports.bittings.kind import BITTING_LIST
        from keyctl.imports.bittings.listening import hear_of_list
        from keyctl.imports.cobie.kind import COBIE
        from keyctl.imports.ifc.kind import IFC
        from keyctl.imports.kinds import register_import
        from keyctl.imports.services.bringing import TAKE, TRY, UNDO, clear_imports
        from keyctl.imports.services.taking import take_import, undo_import
        from keyctl.imports.services.trying import try_file
        from keyctl.imports.tables.cores import CORE_TABLE
        from keyctl.imports.tables.doors import DOOR_TABLE
        from keyctl.imports.tables.holders import HOLDER_TABLE
        from keyctl.imports.tables.keys import KEY_TABLE
        from keyctl.inherited.telling import add_listener
        from keyctl.jobs.kinds import register_kind
        from keyctl.jobs.routines import register_routine

        register_kind(TRY, gettext_lazy("Try an import"), try_file)
        register_kind(TAKE, gettext_lazy("Take an import"), take_import)
        register_kind(UNDO, gettext_lazy("Undo an import"), undo_import)
        register_routine(
            "imports.clear",
            gettext_lazy("Delete files left lying, and what old imports kept for an undo"),
            clear_imports,
            every=timedelta(days=1),
        )
        for table in (DOOR_TABLE, CORE_TABLE, KEY_TABLE, HOLDER_TABLE, BITTING_LIST):
            register_import(table)
        add_listener(hear_of_list)
        register_import(COBIE)
        register_import(IFC)
