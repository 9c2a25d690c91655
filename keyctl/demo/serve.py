"""Serving the invented estate on loopback, for looking at. A real installation runs a WSGI server."""

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.conf import settings
from django.core.management.base import OutputWrapper
from django.core.servers.basehttp import ThreadedWSGIServer, WSGIRequestHandler
from django.core.wsgi import get_wsgi_application

from keyctl.lib.dumps import refuse_dumps

PATIENCE_SECONDS = 10


class QuietHandler(WSGIRequestHandler):
    def log_message(self, *_args: Any) -> None:
        """One line per request would bury the sign-ins printed above."""


def until_stopped(host: str, port: int, out: OutputWrapper) -> None:
    refuse_dumps()
    # Invented people sign in by the passwords printed above, with nothing to scan; the pages offer it.
    settings.SECOND_FACTOR = "offered"
    server = ThreadedWSGIServer((host, port), QuietHandler)
    server.set_app(get_wsgi_application())
    out.write(f"keyctl is at http://{host}:{port}/ (stop with Ctrl-C)")
    try:
        with worker():
            server.serve_forever()
    except KeyboardInterrupt:
        out.write("stopped")
    finally:
        server.server_close()


@contextmanager
def worker() -> Iterator[None]:
    """A worker beside the server, in a process of its own: pages stay quick while it works."""
    command = [sys.executable, str(settings.BASE_DIR / "manage.py"), "work", "--with-parent"]
    process = subprocess.Popen(command, stdin=subprocess.DEVNULL)  # noqa: S603 (its own Python, no shell)
    try:
        yield
    finally:
        process.terminate()
        try:
            process.wait(PATIENCE_SECONDS)
        except subprocess.TimeoutExpired:
            process.kill()  # a job in a long step; the next worker takes it up from where it was kept
