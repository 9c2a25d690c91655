"""Logs: one line an event on standard error, for people or as JSON; each names the request it belongs to."""

import re
from collections.abc import MutableMapping
from typing import Any

import structlog
from django.core.exceptions import ImproperlyConfigured

from keyctl.lib.traces import trace_without_values

KINDS = ("lines", "json")
# What a terminal or a reader of logs may take for the end of a line, or for a command of its own.
ENDS_OF_LINES = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029]")
Fields = MutableMapping[str, Any]


def place_the_error(_logger: Any, _method: str, fields: Fields) -> Fields:
    """An exception is told by its type and places: its words may quote what must not be in a log."""
    told = fields.pop("exc_info", None)
    error = told[1] if isinstance(told, tuple) else told
    if isinstance(error, BaseException):
        fields["error"] = trace_without_values(error)
    # The interpreter's own rendering of the same, words and all.
    fields.pop("exc_text", None)
    fields.pop("stack_info", None)
    # Another handler may have left its own rendering on the record.
    fields.pop("message", None)
    return fields


def configuration(kind: str) -> dict[str, Any]:
    """Django's LOGGING. As JSON each request has its line; for people only what went wrong has one."""
    if kind not in KINDS:
        raise ImproperlyConfigured(f"KEYCTL_LOGS is {kind!r}; write lines or json.")
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {"plain": {"()": structlog.stdlib.ProcessorFormatter, **_steps(kind)}},
        "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "plain"}},
        "root": {"handlers": ["stderr"], "level": "WARNING"},
        "loggers": {
            "keyctl.requests": {"level": "INFO" if kind == "json" else "ERROR"},
            # Its own handler would mail traces, and write them a second time.
            "django": {"handlers": [], "propagate": True, "level": "WARNING"},
            "django.server": {"handlers": [], "propagate": True, "level": "WARNING"},
            # It warns of every font where an optional library is missing; the prints are the same.
            "weasyprint": {"level": "ERROR"},
        },
    }


def _steps(kind: str) -> dict[str, Any]:
    first = [
        structlog.contextvars.merge_contextvars,
        structlog.stdlib.add_log_level,
        structlog.stdlib.add_logger_name,
        structlog.stdlib.ExtraAdder(),
        structlog.processors.TimeStamper(fmt="iso", utc=True),
        place_the_error,
    ]
    last: list[Any] = [structlog.stdlib.ProcessorFormatter.remove_processors_meta, _leave_objects_out]
    last.append(structlog.processors.JSONRenderer() if kind == "json" else _line)
    return {"foreign_pre_chain": first, "processors": last}


def _leave_objects_out(_logger: Any, _method: str, fields: Fields) -> Fields:
    """Django adds the request itself to its warnings; an object's rendering may hold anything."""
    return {name: value for name, value in fields.items() if isinstance(value, str | int | float)}


def _line(_logger: Any, _method: str, fields: Fields) -> str:
    """A line for people: moment, level and place first, then the words, then whatever else is known."""
    first = [fields.pop(name, "") for name in ("timestamp", "level", "logger", "event")]
    rest = [f"{name}={value}" for name, value in fields.items()]
    parts = [first[0], str(first[1]).upper(), *first[2:], *rest]
    return ENDS_OF_LINES.sub(lambda end: ascii(end[0])[1:-1], " ".join(str(part) for part in parts if part))
