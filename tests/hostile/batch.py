"""Run inside the confined child: many files read one after the other, each with its time and memory."""

from pathlib import Path
from time import perf_counter, process_time
from typing import Any

from django.conf import settings

from keyctl.field.jpeg import read_frame
from keyctl.lib.errors import Refused
from keyctl.lib.tables.reading import read

# The pages read photos where Django is; here its words are English ones.
if not settings.configured:
    settings.configure(USE_I18N=False)


def read_all(content: bytes, *, sizes: list[int], kind: str) -> list[dict[str, Any]]:
    told, at = [], 0
    for size in sizes:
        told.append(_read(content[at : at + size], kind))
        at += size
    return told


def _read(content: bytes, kind: str) -> dict[str, Any]:
    began, spent = perf_counter(), process_time()
    try:
        words = _taken(content, kind)
    except Refused as refusal:
        words = refusal.message
    except Exception as error:  # told apart from a refusal: the test fails on it
        words = f"BROKE: {error!r:.200}"
    return {
        "words": words,
        "seconds": perf_counter() - began,
        "cpu": process_time() - spent,
        "peak": _peak_of_memory(),
    }


def _peak_of_memory() -> int:
    """In bytes, since this program was started: the other figure of the system counts who started it too."""
    facts = dict(line.split(":", 1) for line in Path("/proc/self/status").read_text().splitlines())
    return int(facts["VmHWM"].split()[0]) * 1024


def _taken(content: bytes, kind: str) -> str:
    if kind == "photo":
        read_frame(content)
        return "taken"
    return f"taken: {len(read(content, most_columns=40, most_rows=30_000)['rows'])} rows"
