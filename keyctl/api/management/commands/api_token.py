"""``manage.py api_token NAME --site CODE --scope estate:read`` makes a token and prints it once."""

from argparse import ArgumentParser
from collections.abc import Sequence
from datetime import date
from typing import Any

from django.core.exceptions import PermissionDenied
from django.core.management.base import BaseCommand, CommandError
from django.db.models import Count

from keyctl.accounts.models import User
from keyctl.api.forms import in_a_year
from keyctl.api.models import Scope
from keyctl.api.services import create_token
from keyctl.lib.errors import Refused
from keyctl.places.models import Site
from keyctl.places.roles import Role


class Command(BaseCommand):
    help = "Make an access token for an integration. It is printed once and cannot be shown again."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("name")
        parser.add_argument("--site", action="append", required=True, metavar="CODE", dest="codes")
        parser.add_argument("--scope", action="append", required=True, choices=Scope.values, dest="scopes")
        parser.add_argument(
            "--network",
            action="append",
            default=[],
            metavar="CIDR",
            dest="networks",
            help="where it works from",
        )
        parser.add_argument("--expires", type=date.fromisoformat, metavar="YYYY-MM-DD", help="its last day")
        parser.add_argument("--by", metavar="USERNAME", help="the administrator in whose name it is made")

    def handle(self, *_args: Any, **options: Any) -> None:
        sites = sites_of(options["codes"])
        try:
            token, credential = create_token(
                actor=administrator_of(sites, options["by"]),
                name=options["name"],
                sites=sites,
                scopes=[Scope(scope) for scope in options["scopes"]],
                expires_on=options["expires"] or in_a_year(),
                networks=" ".join(options["networks"]),
            )
        except Refused as refusal:
            raise CommandError(" ".join(refusal.sentences)) from None
        except PermissionDenied:
            raise CommandError(f"{options['by']} does not administer all of these sites.") from None
        where = f"; from {token.networks}" if token.networks else ""
        self.stderr.write(f"{token}: {token.scopes}{where}; last day {token.last_day}. Shown this once:")
        self.stdout.write(credential.text)


def sites_of(codes: Sequence[str]) -> list[Site]:
    found = {site.code: site for site in Site.objects.filter(code__in=codes)}
    if missing := [code for code in codes if code not in found]:
        raise CommandError(f"There is no site {', '.join(missing)}.")
    return list(found.values())


def administrator_of(sites: Sequence[Site], username: str | None) -> User:
    """History needs a name: the one given, or the only person it can be."""
    if username:
        return _user(username)
    everywhere = User.objects.filter(
        is_active=True, memberships__role=Role.ADMINISTRATOR, memberships__site__in=sites
    ).annotate(administered=Count("memberships__site", distinct=True))
    able = list(everywhere.filter(administered=len(sites)).order_by("username"))
    if len(able) != 1:
        names = ", ".join(user.username for user in able) or "nobody"
        raise CommandError(
            f"Say who makes it with --by USERNAME; all of these sites are administered by: {names}."
        )
    return able[0]


def _user(username: str) -> User:
    user = User.objects.filter(username=username, is_active=True).first()
    if user is None:
        raise CommandError(f"There is no user {username}.")
    return user
