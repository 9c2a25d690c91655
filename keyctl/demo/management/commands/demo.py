"""``manage.py demo``: build the invented estate, prove it, print a sheet, and serve it on loopback."""

import socket
from argparse import ArgumentParser
from time import monotonic
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from keyctl.accounts.fresh import FreshSignIn
from keyctl.audit.checkpoints import sign_history
from keyctl.cores.proof import Proof
from keyctl.demo import build, people, serve, work
from keyctl.demo.plan import FEWEST_DOORS, plan_estate
from keyctl.lib.errors import Refused
from keyctl.lib.language import english
from keyctl.orders.models import WorkOrder
from keyctl.prints.errors import PrinterMissing
from keyctl.prints.services import print_pinning_sheet
from keyctl.search.services import read_what_changed
from keyctl.vault.ring import make_first_keys
from keyctl.vault.services import make_key_if_missing

DEFAULT_SEED = 20_26
HOST = "127.0.0.1"


class Command(BaseCommand):
    help = "Build an invented estate, prove it, and show it in the browser."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--doors", type=int, default=FEWEST_DOORS, help="how many doors (at least 600)")
        parser.add_argument("--seed", type=int, default=DEFAULT_SEED, help="another seed is another estate")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--no-serve", action="store_true", help="end after the work")
        parser.add_argument(
            "--new-passwords", action="store_true", help="print new sign-ins for an estate that stands"
        )

    def handle(self, *_args: Any, **options: Any) -> None:
        self.started = monotonic()
        if not options["no_serve"]:
            self._refuse_taken_port(options["port"])
        try:
            with english():
                self._run(**options)
        except Refused as refused:
            raise CommandError(" ".join(refused.sentences)) from None
        if not options["no_serve"]:
            serve.until_stopped(HOST, options["port"], self.stdout)

    def _run(self, *, doors: int, seed: int, new_passwords: bool, **_options: Any) -> None:
        """Every step looks whether it was done before: a second run, or one after a stop, takes it up."""
        settings.STATIC_ROOT.mkdir(parents=True, exist_ok=True)
        make_key_if_missing()
        self._say("preparing the database")
        call_command("migrate", verbosity=0)
        make_first_keys()
        self._build_what_is_missing(doors, seed)
        self._print_sheet(work.pinned_order())
        # As the worker does every hour and every minute: no history stands unsigned, and everything is found.
        sign_history()
        read_what_changed()
        self._print_summary(build.last_proof())
        if new_passwords or people.nobody_can_sign_in():
            self._print_sign_ins()
        else:
            self._say("the sign-ins were printed when the estate was built; --new-passwords makes new ones")

    def _build_what_is_missing(self, doors: int, seed: int) -> None:
        plan, there = plan_estate(doors, seed), build.existing_plan()
        if there is None:
            build.begin(plan)
        elif there != {"doors": plan.doors, "seed": seed}:
            raise CommandError(
                f"An invented estate of {there['doors']} doors (seed {there['seed']}) stands in "
                f"{settings.DATA_DIR}. Set KEYCTL_DATA_DIR to another folder for a second one."
            )
        if build.is_built():
            self._say(f"the invented estate of {plan.doors} doors is there already")
        else:
            self._say(f"building {plan.sites} sites, {len(plan.buildings)} buildings, {plan.doors} doors")
            build.build_estate(self._say)

    def _print_sheet(self, order: WorkOrder) -> None:
        file = settings.DATA_DIR / f"pinning-sheet-{order.number}.pdf"
        if file.exists():
            return self._say(f"{file} is there already")
        try:
            # Whoever runs this at the machine stands in for the locksmith.
            sign_in = FreshSignIn(order.opened_by.pk, timezone.now())
            sheet = print_pinning_sheet(actor=order.opened_by, order=order, sign_in=sign_in)
        except PrinterMissing as missing:
            self.stderr.write(f"keyctl: no pinning sheet: {missing.message}")
        else:
            # Whole or not at all, however it is stopped.
            part = file.with_suffix(".part")
            part.write_bytes(sheet)
            part.replace(file)
            self._say(f"wrote {file}")

    def _print_summary(self, proof: Proof) -> None:
        summary = build.summarise()
        self.stdout.write(
            f"sites {summary.sites}, buildings {summary.buildings}, doors {summary.doors}, "
            f"cores {summary.cores}, holders {summary.holders}, events {summary.events}\n"
            f"key symbols {proof.keys}, key copies {summary.copies}\n"
            f"cores pinned {proof.cores}; {summary.cores - proof.cores} wait in an open pin order\n"
            f"pairs proven {proof.pairs} (every pinned core, every key symbol): "
            f"{proof.turning} turn, {proof.withdrawing} take the core out\n"
            f"disagreements {len(proof.disagreements)}"
        )
        for found in proof.disagreements[:20]:
            self.stdout.write(f"  core {found.core}: key {found.symbol_id} {found.kind.label}")

    def _print_sign_ins(self) -> None:
        self.stdout.write("Sign-ins (invented people; these passwords are not shown again):")
        for sign_in in people.new_passwords():
            self._print_sign_in(sign_in)

    def _print_sign_in(self, sign_in: people.SignIn) -> None:
        self.stdout.write(f"  {sign_in.role.label:<18} {sign_in.username:<14} {sign_in.password}")

    def _refuse_taken_port(self, port: int) -> None:
        with socket.socket() as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((HOST, port))
            except OSError:
                raise CommandError(f"Port {port} is taken. Choose another: demo --port {port + 1}") from None

    def _say(self, line: str) -> None:
        self.stdout.write(f"[{monotonic() - self.started:6.1f} s] {line}")
