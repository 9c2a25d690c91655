"""``manage.py export_cobie FILE --site NAME --building CODE``: a building's doors as a COBie workbook."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.exceptions import PermissionDenied
from django.core.management.base import BaseCommand, CommandError
from django.db import transaction
from django.db.models import Q
from django.http import Http404

from keyctl.accounts.models import User
from keyctl.exports.cobie.services import export_cobie
from keyctl.places.models import Building, Membership, Site
from keyctl.places.roles import Role


class Command(BaseCommand):
    help = (
        "Write the doors of a building to a COBie workbook (.xlsx), with the identifiers that they came with."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--site", required=True, metavar="NAME", help="its code or its name")
        parser.add_argument("--building", required=True, metavar="CODE", help="its code or its name")
        parser.add_argument("--by", metavar="USERNAME", help="in whose name; else an administrator's")

    def handle(self, *_args: Any, **options: Any) -> None:
        building = building_named(options["site"], options["building"])
        try:
            # What could not be written was not exported: history keeps no line of it.
            with transaction.atomic():
                content = export_cobie(actor=actor_for(building.site, options["by"]), building=building)
                options["file"].write_bytes(content)
        except (PermissionDenied, Http404):
            raise CommandError("This person does not administer the site. Name another --by.") from None
        except OSError as error:
            raise CommandError(f"{options['file']} cannot be written: {error.strerror}.") from None
        self.stdout.write(f"{options['file']} holds the doors of {building}.")


def building_named(site: str, name: str) -> Building:
    sites = Site.objects.filter(Q(code__iexact=site) | Q(name__iexact=site))
    found = list(Building.objects.filter(Q(code__iexact=name) | Q(name__iexact=name), site__in=sites)[:2])
    if len(found) != 1:
        codes = ", ".join(Building.objects.filter(site__in=sites).values_list("code", flat=True)) or "none"
        raise CommandError(f"No single building at {site} is called {name}. Buildings there: {codes}.")
    return Building.objects.select_related("site").get(pk=found[0].pk)


def actor_for(site: Site, username: str | None) -> User:
    """History needs a name."""
    if username:
        named = User.objects.filter(username=username, is_active=True).first()
        if named is None:
            raise CommandError(f"Nobody signs in as {username}.")
        return named
    rows = Membership.objects.filter(site=site, role=Role.ADMINISTRATOR, user__is_active=True)
    first = rows.select_related("user").order_by("user__username").first()
    if first is None:
        raise CommandError(f"Nobody administers {site}. Name somebody with --by.")
    return first.user
