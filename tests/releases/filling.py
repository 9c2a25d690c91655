"""An installation of this release with one of everything, in a database that its migrations made.

`python -m tests.releases.filling FOLDER` is a process of its own: settings name one database for a process.
"""

import json
import os
import sys
from pathlib import Path
from typing import Any

KEYS = {
    "KEYCTL_SECRET_KEY": "only-for-tests",
    # Its 32 bytes say that it is invented, as the tests' settings have it.
    "KEYCTL_VAULT_KEY": "YSBrZXkgdGhhdCBvbmx5IHRoZSB0ZXN0cyBrbm93IG8=",
}


def fill(folder: Path) -> None:
    from django.conf import settings
    from django.core.management import call_command
    from django.db import connection

    from tests.releases.dumping import dump_server
    from tests.releases.promises import promises

    settings.CHECKPOINT_DIR = folder / "checkpoints"
    settings.HISTORY_KEY_FILE = folder / "history.key"
    call_command("migrate", verbosity=0)
    if left := _fill_tables():
        print(f"Without a row: {', '.join(left)}.")  # noqa: T201 (a command)
    if connection.vendor == "postgresql":
        dump_server(connection.settings_dict, folder)
    _keep_signatures(folder, connection.vendor)
    _keep(folder / "promises.json", promises())


def _fill_tables() -> list[str]:
    from django.test import Client
    from django.utils import timezone

    from keyctl.audit.checkpoints import sign_history
    from keyctl.search.services import read_what_changed
    from keyctl.vault import ring
    from tests.cast import gather
    from tests.keyctl.operations.conftest import number_acts
    from tests.releases.rows import empty_tables, fill_empty_tables
    from tests.scenes import build_routes

    ring.make_first_keys()
    cast = gather()
    base, _ = build_routes(cast)
    number_acts(cast)
    _look_at_pins(cast, base.core)
    Client().force_login(cast.locksmith)
    fill_empty_tables()
    read_what_changed(timezone.now())
    sign_history()
    return empty_tables()


def _look_at_pins(cast: Any, core: Any) -> None:
    """As people do it: history must tell of each look."""
    from keyctl.cores.services import pins_to_show
    from keyctl.reveals.services import reveal
    from tests.permits import permit
    from tests.signing import proven

    permit(pins_to_show(core).kind, core, to=cast.locksmith, by=cast.officer)
    reveal(actor=cast.locksmith, sign_in=proven(cast.locksmith), wanted=lambda: [pins_to_show(core)])


def _keep_signatures(folder: Path, vendor: str) -> None:
    signed = [json.loads(file.read_text()) for file in sorted((folder / "checkpoints").glob("*.json"))]
    key = (folder / "history.key").read_text().strip()
    _keep(folder / f"{vendor}.history.json", {"key": key, "checkpoints": signed})


def _keep(file: Path, told: Any) -> None:
    file.write_text(json.dumps(told, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    chosen = Path(sys.argv[1])
    os.environ |= KEYS | {
        "DJANGO_SETTINGS_MODULE": "tests.settings",
        "KEYCTL_DATA_DIR": str(chosen / "data"),
        "KEYCTL_SECRETS_DIR": str(chosen / "secrets"),
    }
    (chosen / "data").mkdir(parents=True, exist_ok=True)
    import django

    django.setup()
    fill(chosen)
