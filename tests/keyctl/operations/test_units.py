"""The example units start what is there: their command is run, on a port of its own."""

import os
import re
import shlex
import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from configparser import ConfigParser
from pathlib import Path

import pytest
from django.conf import settings

FOLDER = settings.BASE_DIR / ".deploy"
# Only a failure waits so long: the first answer imports everything, and the tests beside it take the cores.
PATIENCE_S = 120
UNITS = ("keyctl-web.service", "keyctl-work.service", "keyctl-watch.service", "keyctl-backup.service")


def unit(name: str) -> ConfigParser:
    parser = ConfigParser(strict=False, interpolation=None)
    parser.optionxform = str  # type: ignore[assignment,method-assign]
    parser.read_string((FOLDER / name).read_text())
    return parser


def command(name: str) -> list[str]:
    """What the unit starts, by the Python at hand."""
    program, *arguments = shlex.split(unit(name)["Service"]["ExecStart"])
    assert program.endswith("/.venv/bin/python")
    return [sys.executable, *arguments]


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def answer_of(url: str, server: subprocess.Popen[bytes]) -> bytes:
    for _ in range(150):
        assert server.poll() is None, "the server ended by itself"
        try:
            with urllib.request.urlopen(url, timeout=PATIENCE_S) as answer:  # noqa: S310 (our own loopback address)
                return bytes(answer.read())
        except (urllib.error.URLError, ConnectionError):
            time.sleep(0.1)
    raise AssertionError(f"{url} did not answer")


def test_the_web_unit_serves_and_opens_no_control_socket(tmp_path: Path) -> None:
    address = f"127.0.0.1:{free_port()}"
    started = [address if part == "127.0.0.1:8000" else part for part in command("keyctl-web.service")]
    assert address in started
    environment = os.environ | {
        "HOME": str(tmp_path),
        "KEYCTL_DATA_DIR": str(tmp_path / "data"),
        "KEYCTL_SECRETS_DIR": str(tmp_path / "secrets"),
        "DJANGO_SETTINGS_MODULE": "keyctl.settings",
    }
    (tmp_path / "data" / "static").mkdir(parents=True)
    server = subprocess.Popen(  # noqa: S603 (the command of our own unit)
        started, cwd=settings.BASE_DIR, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    try:
        assert answer_of(f"http://{address}/health/live", server) == b"alive\n"
        assert not list(tmp_path.rglob("*.ctl"))
    finally:
        server.terminate()
        server.wait(PATIENCE_S)


def test_the_worker_unit_names_a_command_that_exists() -> None:
    asked = subprocess.run(  # noqa: S603 (the command of our own unit)
        [*command("keyctl-work.service"), "--help"],
        cwd=settings.BASE_DIR,
        env=os.environ | {"KEYCTL_NO_VENV": "1"},
        capture_output=True,
        text=True,
        check=True,
    )
    assert "usage: manage.py work" in asked.stdout


def test_no_unit_leaves_a_dump_of_memory_or_files_for_others() -> None:
    for name in UNITS:
        service = unit(name)["Service"]
        assert (service["LimitCORE"], service["UMask"]) == ("0", "0077")


def test_units_take_nothing_that_they_do_not_need() -> None:
    """What `systemd-analyze security` weighs most."""
    wanted = {
        "NoNewPrivileges": "true",
        "ProtectSystem": "strict",
        "ProtectHome": "true",
        "PrivateTmp": "true",
        "CapabilityBoundingSet": "",
        "SystemCallFilter": "@system-service",
        "RestrictNamespaces": "true",
    }
    for name in UNITS:
        service = unit(name)["Service"]
        assert {option: service[option] for option in wanted} == wanted


def test_keys_come_as_credentials_and_stand_in_no_unit() -> None:
    for name in UNITS:
        text = (FOLDER / name).read_text()
        assert "Environment=KEYCTL_SECRETS_DIR=%d" in text
        for key in ("django.key", "vault.key", "history.key", "backup.pub"):
            assert f"LoadCredential={key}:/etc/keyctl/{key}" in text
        # The key that opens backups is on no machine that makes them.
        assert "backup.key" not in text
        assert not re.search(r"KEYCTL_(SECRET|VAULT)_KEY=", text)


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="systemd is not here")
def test_systemd_itself_finds_no_fault(tmp_path: Path) -> None:
    """Told what is missing on this machine, it is told to look past: the program of the example's folder."""
    for name in (*UNITS, "keyctl-watch.timer", "keyctl-backup.timer"):
        text = (FOLDER / name).read_text().replace("/srv/keyctl/.venv/bin/python", sys.executable)
        (tmp_path / name).write_text(text.replace("User=keyctl", "User=root"))
    told = subprocess.run(  # noqa: S603 (systemd's own checker, on copies of our files)
        ["systemd-analyze", "verify", *map(str, tmp_path.iterdir())],  # noqa: S607
        capture_output=True,
        text=True,
        check=False,
    )
    lines = [line for line in told.stderr.splitlines() if "keyctl-" in line]
    assert lines == []


def test_the_proxy_keeps_what_watches_to_itself() -> None:
    text = (FOLDER / "nginx.conf").read_text()
    assert "location /health/ { return 404; }" in text
    assert "location = /metrics { return 404; }" in text
    assert "$request_uri" not in text.split("log_format", 1)[1].split(";", 1)[0]


def test_the_proxy_lets_go_of_an_idle_connection_before_the_host_closes_it() -> None:
    """Common practice for keep-alive behind a proxy; the host's own is two seconds, the proxy's a minute."""
    upstream = (FOLDER / "nginx.conf").read_text().split("upstream keyctl {", 1)[1].split("}", 1)[0]
    found = re.search(r"keepalive_timeout (\d+)s;", upstream)
    assert found is not None
    options = command("keyctl-web.service")
    assert int(found[1]) < int(options[options.index("--keep-alive") + 1])
