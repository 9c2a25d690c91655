"""What whoever runs keyctl watches: whether it lives, whether it is ready, how much it does, whether all data
is sound, and that there is a backup."""

from datetime import timedelta

from django.apps import AppConfig
from django.core import checks


class OperationsConfig(AppConfig):
    name = "keyctl.operations"

    def ready(self) -> None:
        from keyctl.jobs.routines import register_routine
        from keyctl.lib.datafolder import check_data_folder
        from keyctl.lib.sqlite import check_library
        from keyctl.operations.backup.nightly import back_up_every_night
        from keyctl.operations.estate.checking import check_every_night
        from keyctl.operations.estate.laws import register_laws
        from keyctl.operations.history.rounds import check_every_entry, check_new_entries

        checks.register(check_data_folder)
        checks.register(check_library)
        register_laws()
        register_routine(
            "estate.check", "Hold all data against the laws", check_every_night, every=timedelta(days=1)
        )
        register_routine(
            "history.check", "Check what is new in the history", check_new_entries, every=timedelta(hours=1)
        )
        register_routine(
            "history.check-whole", "Check the whole history", check_every_entry, every=timedelta(days=1)
        )
        register_routine("backup.make", "Make a backup", back_up_every_night, every=timedelta(days=1))
