"""``manage.py import doors FILE --site NAME``: a file tried and taken at once, without a page or a worker."""

import json
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.exceptions import PermissionDenied
from django.core.management.base import BaseCommand, CommandError
from django.db.models import Q
from django.http import Http404

from keyctl.accounts.models import User
from keyctl.imports.bittings.running import Target, run_list
from keyctl.imports.kinds import Kind, find_kind, known_kinds
from keyctl.imports.running import run_import
from keyctl.lib.errors import Refused
from keyctl.places.models import Membership, Site
from keyctl.places.roles import Role

SOME_LEFT_OUT, NOTHING_DONE = 1, 2


class Command(BaseCommand):
    help = (
        "Bring a file in: doors, cores, keys, holders and bittings from CSV or a workbook, doors from COBie "
        "or an IFC model. Rows with errors are left out and told. Ends with 0: every row is on "
        "record (or would be, in a dry run), 1: rows were left out, 2: nothing was done. It is undone on its "
        "page."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("kind", help="doors, cores, keys, holders, bittings, cobie or ifc")
        parser.add_argument("file", type=Path)
        parser.add_argument("--site", required=True, metavar="NAME", help="its code or its name")
        parser.add_argument("--dry-run", action="store_true", help="write nothing, only tell")
        parser.add_argument("--json", action="store_true", help="tell it as one object")
        parser.add_argument(
            "--map",
            action="append",
            default=[],
            metavar="HEADING=FIELD",
            help="what a column says, where its heading does not tell",
        )
        parser.add_argument("--system", metavar="CODE", default="", help="of bittings: the key system")
        for name in ("--system-name", "--format", "--keyway"):
            parser.add_argument(name, default="", help="of bittings: facts of a new key system")
        parser.add_argument("--despite-warnings", action="store_true", help="of bittings: they were read")
        parser.add_argument("--by", metavar="USERNAME", help="in whose name; else an administrator's")

    def handle(self, *_args: Any, **options: Any) -> None:
        try:
            told = told_of(options)
        except Refused as refused:
            self._end(options["json"], refused.sentences)
        except (PermissionDenied, Http404):
            self._end(
                options["json"], ["This person has no role at the site that suffices. Name another --by."]
            )
        else:
            self._tell(told, options["json"])
            if told["errors"]:
                sys.exit(SOME_LEFT_OUT)

    def _tell(self, told: dict[str, Any], as_json: bool) -> None:
        if as_json:
            self.stdout.write(json.dumps(told, ensure_ascii=False))
            return
        for name, figures in told.items():
            if isinstance(figures, dict):
                self.stdout.write(
                    f"{name}: " + ", ".join(f"{count} {what}" for what, count in figures.items())
                )
            elif isinstance(figures, int) and figures:
                self.stdout.write(f"{name}: {figures} read")
        for fault in [*told["errors"], *told["warnings"]]:
            place = " ".join(str(part) for part in (fault["sheet"], fault["row"], fault["column"]) if part)
            self.stdout.write(f"  {place}: {fault['message']}")

    def _end(self, as_json: bool, sentences: list[str]) -> None:
        """Nothing was done; a program finds the reason in the same form as a row's."""
        if as_json:
            errors = [{"sheet": "", "row": 0, "column": "", "message": each} for each in sentences]
            self.stdout.write(json.dumps({"errors": errors}, ensure_ascii=False))
            sys.exit(NOTHING_DONE)
        raise CommandError(" ".join(sentences), returncode=NOTHING_DONE)


def told_of(options: dict[str, Any]) -> dict[str, Any]:
    """What came of the file: a bitting list goes its own way."""
    kind, site = kind_named(options["kind"]), site_named(options["site"])
    facts: dict[str, Any] = {
        "actor": actor_for(kind, site, options["by"]),
        "site": site,
        "name": options["file"].name,
        "content": content_of(options["file"], kind),
        "named": dict(pair_of(text) for text in options["map"]),
        "is_dry": options["dry_run"],
    }
    if kind.is_brought_here:
        return run_import(kind=kind, **facts)
    target = Target(options["system"], options["system_name"], options["format"], options["keyway"])
    return run_list(target=target, despite_warnings=options["despite_warnings"], **facts)


def kind_named(name: str) -> Kind:
    kind = find_kind(name)
    if kind is None:
        names = ", ".join(kind.name for kind in known_kinds())
        raise Refused(f"There are no imports of {name}. Choose one of: {names}.")
    return kind


def site_named(name: str) -> Site:
    found = list(Site.objects.filter(Q(code__iexact=name) | Q(name__iexact=name))[:2])
    if len(found) != 1:
        codes = ", ".join(Site.objects.values_list("code", flat=True)) or "none yet"
        raise Refused(f"No single site is called {name}. Sites here: {codes}.")
    return found[0]


def actor_for(kind: Kind, site: Site, username: str | None) -> User:
    """History needs a name: the one given, else an administrator's where the kind is theirs."""
    if username:
        user = User.objects.filter(username=username, is_active=True).first()
        if user is None:
            raise Refused(f"Nobody signs in as {username}.")
        return user
    rows = Membership.objects.filter(site=site, role__in=kind.takers, user__is_active=True)
    found = sorted(
        rows.select_related("user"), key=lambda row: (row.role != Role.ADMINISTRATOR, row.user.username)
    )
    if not found:
        roles = " or ".join(role.label.lower() for role in kind.takers)
        raise Refused(f"Nobody at {site} may take this. It wants a {roles}.")
    return found[0].user


def content_of(path: Path, kind: Kind) -> bytes:
    try:
        if path.stat().st_size > kind.largest:
            raise Refused(f"The file is larger than {kind.largest // 1_000_000} MB. Send it in parts.")
        return path.read_bytes()
    except OSError as error:
        raise Refused(f"The file {path} cannot be read: {error.strerror}.") from None


def pair_of(text: str) -> tuple[str, str]:
    heading, _, field = text.rpartition("=")
    if not heading or not field:
        raise Refused(f"Write --map Heading=field; {text} is not of that form.")
    return heading, field
