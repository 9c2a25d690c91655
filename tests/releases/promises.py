"""What else others build upon, in words that can be compared: addresses, columns, names, formats."""

import re
from typing import Any

from django.core.management import get_commands
from django.urls import reverse

from keyctl.api.kinds import KINDS
from keyctl.api.models import Scope
from keyctl.exports.tables import TABLES
from keyctl.operations.archive import container as archive
from keyctl.operations.backup import container as backup
from keyctl.webhooks.kinds import FAMILIES
from tests.releases import ROOT

# What a backup and an archive begin with, and which number their format has.
FILES = {"archive": archive, "backup": backup}


def promises() -> dict[str, list[str]]:
    found: dict[str, Any] = {
        "addresses": [reverse("find-by-tag", args=["TAG"]), reverse("desk:feed", args=["SECRET"])],
        "columns": [
            f"{table.name}: {column.heading}" for table in TABLES.values() for column in table.columns
        ],
        "commands": [name for name, app in get_commands().items() if app.startswith("keyctl.")],
        "files": [f"{name}: {_begins(each)} {each.FORMAT}" for name, each in FILES.items()],
        "problems": KINDS,
        "scopes": Scope.values,
        "settings": _settings(),
        "webhooks": [f"{name}: {first}" for name, (_, words) in FAMILIES.items() for first in words],
    }
    return {name: sorted(words) for name, words in found.items()}


def _begins(container: Any) -> str:
    return str(container.BEGINNING.magic.decode().strip())


def _settings() -> set[str]:
    code = "".join(file.read_text(encoding="utf-8") for file in (ROOT / "keyctl").rglob("*.py"))
    return set(re.findall(r'"(KEYCTL_[A-Z_]+)"', code))


def broken(old: dict[str, list[str]], new: dict[str, list[str]]) -> list[str]:
    return [
        f"{name}: {word}" for name, words in old.items() for word in words if word not in new.get(name, ())
    ]
