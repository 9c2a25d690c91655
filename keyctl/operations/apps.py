"""What whoever runs keyctl watches: whether it lives, whether it is ready, how much it does, whether all data
is sound, and that there is a backup."""

from datetime import timedelta

from django.apps import AppConfig
from django.core import checks
from django.utils.translation import gettext_lazy


class OperationsConfig(AppConfig):
    name = "keyctl.operations"

    def ready(self) -> None:
        from keyctl.audit.wording import register_words
        from keyctl.jobs.routines import register_routine
        from keyctl.lib.datafolder import check_data_folder
        from keyctl.lib.planner import look_anew_every_day
        from keyctl.lib.sqlite import check_library
        from keyctl.operations.archive.keeping import forget_old_files
        from keyctl.operations.archive.services import register_archives
        from keyctl.operations.backup.nightly import back_up_every_night
        from keyctl.operations.estate.checking import check_every_night
        from keyctl.operations.estate.laws import register_laws
        from keyctl.operations.first_page import guarded, history_stands
        from keyctl.operations.history.rounds import check_every_entry, check_new_entries
        from keyctl.places.roles import Role
        from keyctl.start.blocks import offer

        checks.register(check_data_folder)
        checks.register(check_library)
        register_laws()
        register_words()
        register_archives()
        offer((Role.ADMINISTRATOR,), guarded)
        offer((Role.AUDITOR,), history_stands, comes_first=True)
        routines = (
            ("estate.check", gettext_lazy("Hold all data against the laws"), check_every_night, 24),
            ("history.check", gettext_lazy("Check what is new in the history"), check_new_entries, 1),
            ("history.check-whole", gettext_lazy("Check the whole history"), check_every_entry, 24),
            (
                "database.look-anew",
                gettext_lazy("Have the database look at its tables"),
                look_anew_every_day,
                24,
            ),
            ("backup.make", gettext_lazy("Make a backup"), back_up_every_night, 24),
            ("archive.forget", gettext_lazy("Delete old archives of the estate"), forget_old_files, 6),
        )
        for name, words, work, hours in routines:
            register_routine(name, words, work, every=timedelta(hours=hours))
