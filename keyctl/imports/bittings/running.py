"""A bitting list from beginning to end where one stands, by the services of its pages."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.imports.bittings.kind import BITTINGS
from keyctl.imports.running import done_here
from keyctl.inherited import services
from keyctl.inherited.columns import FIELDS, NEEDED
from keyctl.inherited.models import BittingList
from keyctl.inherited.selectors import findings_shown
from keyctl.inherited.services.bringing import sheet_of
from keyctl.lib.columns import named_columns
from keyctl.lib.errors import Refused
from keyctl.places.models import Site
from keyctl.systems.models import KeySystem

READ_WARNINGS = gettext_lazy(
    "There are warnings. Read them, and say --despite-warnings if the list is right."
)


@dataclass(frozen=True)
class Target:
    """The key system by its code; its other facts where it is a new one."""

    code: str
    name: str = ""
    format_id: str = ""
    keyway: str = ""


def run_list(
    *,
    actor: User,
    site: Site,
    target: Target,
    name: str,
    content: bytes,
    named: Mapping[str, str],
    is_dry: bool,
    despite_warnings: bool,
) -> dict[str, Any]:
    """Check a list, and write it unless it has errors: then nothing of it is written."""
    listed = _brought(actor, site, target, name, content)
    columns = _columns(listed, named)
    listed = services.choose_columns(
        actor=actor, listed=listed, version=listed.version, columns=columns, has_header=listed.has_header
    )
    done_here(services.start_check(actor=actor, listed=listed, version=listed.version))
    listed = BittingList.objects.select_related("site", "system").get(pk=listed.pk)
    told = _told(listed)
    if is_dry or told["errors"]:
        services.leave_list(actor=actor, listed=listed, version=listed.version)
        return told
    if told["warnings"] and not despite_warnings:
        services.leave_list(actor=actor, listed=listed, version=listed.version)
        raise Refused(READ_WARNINGS, reasons=[warning["message"] for warning in told["warnings"]])
    done_here(
        services.start_writing(
            actor=actor,
            listed=listed,
            version=listed.version,
            digest=listed.digest,
            despite_warnings=despite_warnings,
        )
    )
    return told


def _brought(actor: User, site: Site, target: Target, name: str, content: bytes) -> BittingList:
    system = KeySystem.objects.filter(sites=site, code__iexact=target.code).first()
    if system is None and not (target.name and target.format_id and target.keyway):
        raise Refused(
            _(
                "No key system of this site has this code. Name one by --system; of a new one --system-name, "
                "--format and --keyway, too."
            )
        )
    return services.bring_list(
        actor=actor,
        site=site,
        name=name,
        content=content,
        system=system,
        code=target.code,
        system_name=target.name,
        format_id=target.format_id,
        keyway=target.keyway,
    )


def _columns(listed: BittingList, named: Mapping[str, str]) -> dict[str, int]:
    told = named_columns(sheet_of(listed), FIELDS, named)
    columns = {field: place for field, place in listed.columns.items() if place not in told.values()} | told
    if missing := [field for field in NEEDED if field not in columns]:
        raise Refused(
            _("No heading says which column is the {missing}. Say it by --map.").format(
                missing=" and which the ".join(missing)
            )
        )
    return columns


def _told(listed: BittingList) -> dict[str, Any]:
    """Findings name cells and symbols, and no cut."""
    keys, cores = listed.counts.get("keys", 0), listed.counts.get("cores", 0)
    errors = [_as_json(finding) for finding in findings_shown(listed, "errors")]
    made = 0 if errors else keys
    return {
        BITTINGS: {"read": keys, "created": made, "updated": 0, "unchanged": 0},
        "cores": cores,
        "errors": errors,
        "warnings": [_as_json(finding) for finding in findings_shown(listed, "warnings")],
    }


def _as_json(finding: Mapping[str, Any]) -> dict[str, Any]:
    column = "".join(sign for sign in finding["place"] if sign.isalpha())
    column = "" if finding["place"].startswith("row") else column
    return {"sheet": "", "row": finding["row"], "column": column, "message": finding["text"]}
