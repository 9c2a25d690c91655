"""A life in one process: an estate is made, everybody looks at every page, work is done, things go wrong, a
backup is taken, and the process is killed. What it leaves behind lies in a folder.

    python -m tests.canary.life FOLDER CANARIES

Logs are written at their most talkative, in both forms; database statements too, with their parameters.
"""

import json
import logging
import os
import signal
import sys
from collections.abc import Iterator
from contextlib import suppress
from datetime import timedelta
from hashlib import sha256
from itertools import count
from pathlib import Path
from typing import Any
from unittest.mock import patch

TOLD_BY = ("json", "lines")
# They differ with every answer and would make each one new; the logs hold the number.
EACH_OWN = ("X-Request-ID", "Content-Length", "ETag")


class NoMigrations:
    """Tables are made from the models, as in every test."""

    def __contains__(self, _label: str) -> bool:
        return True

    def __getitem__(self, _label: str) -> None:
        return None


class Artefacts:
    """Answers as files, each content once, named by route, person and method."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._seen: set[bytes] = set()
        self._number = count(1)
        folder.mkdir(parents=True)

    def keep(self, name: str, content: bytes) -> None:
        digest = sha256(content).digest()
        if content and digest not in self._seen:
            self._seen.add(digest)
            (self.folder / f"{name.replace(':', '.')}~{next(self._number)}").write_bytes(content)

    def keep_answer(self, name: str, answer: Any) -> None:
        """What a reader gets: the headers, and the body whole."""
        headers = "\n".join(f"{key}: {value}" for key, value in answer.items() if key not in EACH_OWN)
        body = b"".join(answer.streaming_content) if answer.streaming else answer.content
        self.keep(name, body)
        self.keep(f"{name}~headers", headers.encode())


def prepare() -> None:
    """An installation of its own, committed to a file."""
    import django
    from django.conf import settings

    django.setup()
    from django.core.management import call_command
    from django.db import connection

    from keyctl.audit import guards
    from keyctl.vault import ring

    settings.MIGRATION_MODULES = NoMigrations()
    settings.ALLOWED_HOSTS = ["*"]
    settings.EMAIL_HOST = "mail.invented.example"
    call_command("migrate", run_syncdb=True, verbosity=0)
    guards.install(connection)
    ring.make_first_keys()


def talk(folder: Path) -> None:
    """Everything that is said, in both forms of the product's logs."""
    from django.db import connection

    from keyctl.lib import logs

    folder.mkdir()
    handlers = [_handler(logs.configuration(kind), folder / f"{kind}.log") for kind in TOLD_BY]
    logging.root.handlers = handlers
    for name in (None, *logging.root.manager.loggerDict):
        logging.getLogger(name).setLevel(logging.DEBUG)
        logging.getLogger(name).disabled = False
    connection.force_debug_cursor = True


def _handler(configured: dict[str, Any], file: Path) -> logging.Handler:
    from logging.config import dictConfig

    handler = dict(
        configured["handlers"]["stderr"], **{"class": "logging.FileHandler", "filename": str(file)}
    )
    dictConfig({**configured, "handlers": {"stderr": handler}})
    made = logging.root.handlers[0]
    logging.root.handlers = []
    return made


def settle() -> tuple[Any, dict[str, Any]]:
    """The estate of the scenes, and permission to look at a core and a key of it."""
    from tests.cast import gather
    from tests.scenes import build_routes

    cast = gather()
    base, objects = build_routes(cast)
    return base, objects


def browsers(cast: Any) -> dict[str, Any]:
    from django.test import Client

    from tests.signing import sign_in

    made = {
        name: sign_in(Client(raise_request_exception=False), user) for name, user in cast.everybody.items()
    }
    return {"nobody": Client(raise_request_exception=False), **made}


def addresses(objects: dict[str, Any]) -> Iterator[tuple[str, str]]:
    from django.urls import NoReverseMatch

    from keyctl.lib.policy import routes
    from tests.matrix.asking import Asker

    asker = Asker({}, objects)
    for name, _ in routes():
        # A route without an object yet fails the test of permissions.
        if not name.startswith(("api:", "scim:")):
            with suppress(NoReverseMatch):
                yield name, asker.address(name)


def look(kept: Artefacts, clients: dict[str, Any], objects: dict[str, Any]) -> None:
    from keyctl.lib.policy import Reach, declared

    for name, address in addresses(objects):
        is_everybodys = declared()[name].reach == Reach.ALL
        for person in ["nobody"] if is_everybodys else clients:
            kept.keep_answer(f"GET~{name}~{person}", clients[person].get(address))


def send(kept: Artefacts, clients: dict[str, Any], objects: dict[str, Any]) -> None:
    """Nothing, to every page, by those who may most; what it does is undone."""
    from django.db import transaction

    for name, address in addresses(objects):
        for person in ("locksmith", "officer"):
            with transaction.atomic():
                kept.keep_answer(f"POST~{name}~{person}", clients[person].post(address))
                transaction.set_rollback(True)


def show(kept: Artefacts, base: Any, clients: dict[str, Any]) -> None:
    """What is meant to be seen is seen, by who may: the search must find it there."""
    from django.urls import reverse

    from keyctl.orders.services import open_pin_order
    from tests.factories import make_core
    from tests.signing import sign_in

    sign_in(clients["locksmith"], base.cast.locksmith)
    smith, site = base.cast.locksmith, base.cast.north
    core = make_core(actor=smith, site=site, system=base.system)
    order = open_pin_order(actor=smith, site=site, title="Bench work", cores=[core])
    answer = clients["locksmith"].post(reverse("cores:pinning", args=[core.pk]))
    kept.keep_answer("SHOWN~cores:pinning", answer)
    kept.keep_answer("SHOWN~api:core-pins", read_as_program(base.cast, core, order))


def read_as_program(cast: Any, core: Any, order: Any) -> Any:
    """By a token for pins, within a window that an officer opened."""
    from keyctl.api.models import Scope, Token
    from keyctl.api.windows import open_window
    from tests.api.client import make_api
    from tests.signing import proven

    api = make_api(cast.administrator, cast.north, scopes=[Scope.PINNING_READ], networks="127.0.0.1")
    token = Token.objects.get(prefix=(api.bearer or "").split("_")[1])
    facts: dict[str, Any] = {"token": token, "sign_in": proven(cast.officer), "minutes": 30}
    open_window(actor=cast.officer, reason="Key machine", **facts)
    return api.post(f"cores/{core.pk}/pinning/", {"order": str(order.pk)}, key="")


def ask_as_programs(kept: Artefacts, cast: Any) -> None:
    from tests.api.client import make_api
    from tests.api.estate import build
    from tests.api.walk import addresses as of_api
    from tests.scim.provider import make_provider

    estate, api = build(cast.north, cast.locksmith), make_api(cast.administrator, cast.north)
    for path in of_api(estate):
        kept.keep_answer(f"API~{path.split('/')[0]}", api.get(path))
    provider = make_provider(cast.administrator)
    provider.create()
    for path in ("Users", "Schemas", "ResourceTypes", "ServiceProviderConfig"):
        kept.keep_answer(f"SCIM~{path}", provider.get(path))


def search_everywhere(kept: Artefacts, clients: dict[str, Any], secrets: list[str]) -> None:
    """Whoever searches for a secret that they guessed reads their own guess again and nothing else."""
    from django.db import connection
    from django.urls import reverse

    # What somebody types is a parameter of the question to the database, which only this test writes down.
    connection.force_debug_cursor = False
    for name in ("cores:estate", "systems:list", "keys:register", "orders:list", "approvals:list"):
        for guess in secrets[:3]:
            for person in ("locksmith", "auditor"):
                answer = clients[person].get(reverse(name), {"q": guess, "search": guess, "text": guess})
                kept.keep(f"SEARCH~{name}~{person}", answer.content.replace(guess.encode(), b""))
    connection.force_debug_cursor = True


def work(kept: Artefacts, base: Any, secret: str) -> None:
    """Every job that waits, one that fails over a secret, routines, mail."""
    from django.core import mail
    from django.utils import timezone

    from keyctl.accounts.models import User
    from keyctl.desk.services.receipts import mail_receipt
    from keyctl.jobs.kinds import register_kind
    from keyctl.jobs.models import Job
    from keyctl.jobs.routines import register_routine, routine_kinds, run_by_hand
    from keyctl.keys.models import Handover, Holder
    from keyctl.notices.services import send_waiting
    from tests.factories import make_job
    from tests.jobs import finish

    def fail(*_arguments: Any) -> Any:
        raise ValueError(f"these cuts do not fit: {secret}")

    register_kind("canary", "A job that fails", fail)
    register_routine("canary", "A routine that fails", fail, every=timedelta(days=1))
    job = make_job(base.cast.north, actor=base.cast.locksmith)
    Job.objects.filter(pk=job.pk).update(kind="canary")
    for job in Job.objects.filter(state=Job.State.WAITING):
        with suppress(Exception):
            finish(job)
    for kind in routine_kinds():
        with suppress(Exception):
            run_by_hand(kind.name)
    User.objects.update(email="somebody@invented.example")
    Holder.objects.update(email="holder@invented.example")
    for act in Handover.objects.all():
        mail_receipt(act)
    send_waiting(timezone.now())
    for nth, message in enumerate(getattr(mail, "outbox", [])):
        kept.keep(f"MAIL~{nth}", message.message().as_bytes())
        for part in message.message().walk():
            kept.keep(f"MAIL~{nth}~part", part.get_payload(decode=True) or b"")


def break_things(kept: Artefacts, clients: dict[str, Any], secret: str) -> None:
    """Errors whose words and variables hold a secret, on pages, in the interface and beside a request."""
    from django.urls import reverse

    def broken(*_arguments: Any, **_facts: Any) -> Any:
        cuts = list(secret)
        raise RuntimeError(f"no such cut in {secret} or {cuts}")

    with patch("keyctl.places.context.Membership.objects", property(broken)):
        for name in ("cores:estate", "systems:list", "orders:list"):
            kept.keep_answer(f"ERROR~{name}", clients["locksmith"].get(reverse(name)))
    try:
        broken()
    except RuntimeError:
        logging.getLogger("keyctl").exception("something broke")
        logging.getLogger("django.request").error("something broke", exc_info=True)


def tell_machines(kept: Artefacts, clients: dict[str, Any], folder: Path) -> None:
    from django.core.management import call_command
    from django.urls import reverse

    for name in ("metrics", "ready"):
        kept.keep_answer(f"MACHINES~{name}", clients["nobody"].get(reverse(f"operations:{name}")))
    from keyctl.audit.checkpoints import sign_history

    sign_history()
    call_command("export_history", folder / "history.jsonl", stdout=(folder / "export.txt").open("w"))
    call_command("backup", to=folder / "backups", stdout=(folder / "backup.txt").open("w"))


def canaries() -> list[tuple[str, str]]:
    """Whatever the vault holds that is made of numbers, by name of its field."""
    from keyctl.vault import services as vault
    from keyctl.vault.fields import sealed_fields

    found = []
    for model, names in sealed_fields():
        for row in model._base_manager.all():
            for name in names:
                if getattr(row, name) is not None and (model._meta.label, name) not in HARMLESS:
                    text = vault.unseal_bytes(row, name).decode("utf-8", "replace")
                    found.append((f"{model._meta.label}.{name} {row}", text))
    return found


# Strokes of a signature, a photo, a table of people: sealed, and shown to who may see them; no cuts.
HARMLESS = {
    ("keys.Handover", "signature"),
    ("field.FieldPhoto", "content"),
    ("directory.PeopleList", "content"),
    ("directory.PeopleList", "findings"),
    ("jobs.JobFile", "content"),
    ("jobs.Job", "parameters"),
}


def main(folder: Path, told: Path) -> None:
    prepare()
    base, objects = settle()
    clients = browsers(base.cast)
    secrets = [text for name, text in canaries() if name.startswith("systems.KeySymbol")]
    told.write_text(json.dumps(canaries()))
    talk(folder / "logs")
    kept = Artefacts(folder / "answers")
    look(kept, clients, objects)
    search_everywhere(kept, clients, secrets)
    send(kept, clients, objects)
    show(kept, base, clients)
    ask_as_programs(kept, base.cast)
    break_things(kept, clients, secrets[0])
    work(kept, base, secrets[0])
    tell_machines(kept, clients, folder)
    told.write_text(json.dumps(canaries()))
    logging.shutdown()
    # As the power would end it: what the database has not taken over yet lies beside it.
    os.kill(os.getpid(), signal.SIGKILL)


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
