"""Serving the invented estate on loopback, for looking at. A real installation runs a WSGI server."""

from typing import Any

from django.core.management.base import OutputWrapper
from django.core.servers.basehttp import ThreadedWSGIServer, WSGIRequestHandler
from django.core.wsgi import get_wsgi_application


class QuietHandler(WSGIRequestHandler):
    def log_message(self, *_args: Any) -> None:
        """One line per request would bury the sign-ins printed above."""


def until_stopped(host: str, port: int, out: OutputWrapper) -> None:
    server = ThreadedWSGIServer((host, port), QuietHandler)
    server.set_app(get_wsgi_application())
    out.write(f"keyctl is at http://{host}:{port}/ (stop with Ctrl-C)")
    try:
        server.serve_forever()
    except KeyboardInterrupt:
        out.write("stopped")
    finally:
        server.server_close()
