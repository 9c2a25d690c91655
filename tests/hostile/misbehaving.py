"""What a confined child may be made to do; run by name in `test_confined`."""

import os
import resource
import sys
import time
from pathlib import Path
from typing import Any

from keyctl.lib.errors import Refused

LEFT_OUT = {"django", "cryptography", "numpy", "lxml", "PIL"}


def tell(content: bytes, **facts: Any) -> dict[str, Any]:
    return {
        "content": len(content),
        "facts": facts,
        "environment": sorted(os.environ),
        "folder": str(Path.cwd()),
        "files": sorted(int(file.name) for file in Path("/proc/self/fd").iterdir()),
        "limits": {
            name: resource.getrlimit(getattr(resource, name)) for name in ("RLIMIT_CORE", "RLIMIT_AS")
        },
        "loaded": sorted(name for name in LEFT_OUT if sys.modules.get(name)),
    }


def refuse(_content: bytes) -> None:
    raise Refused("The list has no end.", reasons=["Row 7"])


def eat_memory(_content: bytes) -> int:
    return len([bytes(1 << 20) for _ in range(1 << 16)])


def eat_memory_slowly(_content: bytes) -> None:
    kept = []
    while True:
        kept.append("x" * 100_000)


def burn(_content: bytes) -> None:
    while True:
        pass


def sleep(_content: bytes) -> None:
    time.sleep(60)


def answer_without_end(_content: bytes) -> None:
    while True:
        sys.stdout.write("x" * 65_536)


def answer_nonsense(_content: bytes) -> None:
    sys.stdout.write("nonsense")


def answer_no_data(_content: bytes) -> object:
    return object()


def crash(_content: bytes) -> None:
    os.kill(os.getpid(), 11)


def write_a_file(_content: bytes, *, place: str) -> str:
    try:
        Path(place).write_bytes(b"bitting" * 500_000)
    except OSError:
        return "refused"
    return "written"


def leave_a_child(_content: bytes) -> None:
    if os.fork():
        os._exit(0)
    time.sleep(0.2)
    os._exit(0)
