"""``manage.py vault``: the keys of a new installation, whether every sealed value opens, and other keys."""

from argparse import ArgumentParser
from pathlib import Path
from time import sleep
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

from keyctl.audit.services import record
from keyctl.lib.errors import Refused
from keyctl.operations import resealing
from keyctl.vault import outer, ring

ACTS = {
    "init": "make the outer key's file and the first data keys of a new installation",
    "verify": "open every sealed value once and count them by key; ends with 1 where one does not open",
    "rotate": "a new data key, and every value sealed anew by it; after a stop it goes on where it was",
    "rewrap": "a new outer key in --new-key; the data keys are wrapped by both until `rewrap --finish`",
}


class Command(BaseCommand):
    help = "The keys that seal bittings: " + "; ".join(f"{act}: {words}" for act, words in ACTS.items()) + "."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("act", choices=ACTS)
        parser.add_argument("--new-key", type=Path, metavar="FILE", help="rewrap: where the new one goes")
        parser.add_argument(
            "--finish",
            action="store_true",
            help="rewrap: the new one is in use everywhere; forget the old",
        )

    def handle(self, *_args: Any, act: str, **options: Any) -> None:
        try:
            {"init": self._init, "verify": self._verify, "rotate": self._rotate, "rewrap": self._rewrap}[act](
                **options
            )
        except Refused as refused:
            raise CommandError(" ".join(refused.sentences)) from None

    def _init(self, **_options: Any) -> None:
        if outer.make_key_if_missing():
            self._say(f"Made {settings.VAULT_KEY_FILE}. Keep a copy away from this machine and its backups.")
        else:
            self._say("There is an outer key already; it was not changed.")
        if ring.make_first_keys():
            self._say("Made the first data keys.")

    def _verify(self, **_options: Any) -> None:
        found = resealing.inspect_values(self._say)
        for name, count in sorted(found.by_key.items()):
            self._say(f"sealed by {name or 'nothing known'}: {count}")
        self._refuse_closed(found.closed, f"{found.total - len(found.closed)} do")
        self._say(f"All {found.total} sealed values open.")

    def _rotate(self, **_options: Any) -> None:
        outer.outer_key()
        ring.make_first_keys()
        total, closed = 0, list[str]()
        if resealing.stale_count():
            self._say("Values of an older key are there: going on with sealing them anew.")
            total, closed = resealing.reseal(self._say)
        if not total:
            # Nothing was left from before, or only what does not open: no reason to keep the key.
            self._note(f"made data key {ring.make_next_key()}, which seals from now on")
            ring.forget()
            total, closed = resealing.reseal(self._say)
        # Another process may have sealed by the key before until it looked again.
        sleep(settings.VAULT_LOOKS_EVERY)
        total += resealing.reseal(self._say)[0]
        self._say(f"Sealed anew: {total} rows. The keys before stay, for backups.")
        self._refuse_closed(closed, "were left as they are")

    def _refuse_closed(self, closed: list[str], what: str) -> None:
        for place in closed:
            self.stderr.write(f"does not open: {place}")
        if closed:
            raise CommandError(
                f"{len(closed)} sealed values do not open and {what}. Restore them from a backup."
            )

    def _rewrap(self, *, new_key: Path | None, finish: bool, **_options: Any) -> None:
        if finish:
            dropped = ring.forget_other_wraps()
            self._note(f"forgot {dropped} data keys as older outer keys had wrapped them")
            return
        if new_key is None:
            raise Refused("Name a file for the new outer key with --new-key; it is made where it is missing.")
        if not new_key.exists():
            outer.write_key(new_key)
        ring.make_first_keys()
        count = ring.wrap_for(outer.decoded_key(new_key.read_text(encoding="ascii").strip()))
        self._note(f"wrapped {count} data keys by the outer key of {new_key.name} as well")
        self._say(
            f"Put {new_key} in the place of {settings.VAULT_KEY_FILE} on every host and start them again; "
            "then run `vault verify` and `vault rewrap --finish`. Keep the old key with the backups it opens."
        )

    @transaction.atomic
    def _note(self, sentence: str) -> None:
        record(actor=None, verb="vault.keys_changed", sentence=sentence)
        self._say(sentence[0].upper() + sentence[1:] + ".")

    def _say(self, sentence: str) -> None:
        self.stdout.write(sentence)
