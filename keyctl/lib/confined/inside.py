"""The other end of `confined`: it binds itself, reads what is to be done, does it and tells what came of it.

Started by its path, with the standard library alone; so it costs some 20 ms, and what it imports costs more.
"""

import json
import resource
import sys
from importlib import import_module
from typing import Any

# What libraries would take along for types that no list holds.
LEFT_OUT = ("lxml", "numpy", "pandas", "PIL")


def main() -> int:
    header, _, content = sys.stdin.buffer.read().partition(b"\n")
    asked = json.loads(header)
    for name, most in asked["limits"].items():
        resource.setrlimit(getattr(resource, name), (most, most))
    sys.path[:] = [*sys.path, *asked["path"]]
    left_out = [name for name in LEFT_OUT if name not in asked["needs"]]
    sys.modules.update(dict.fromkeys(left_out))  # type: ignore[arg-type]
    sys.stdout.write(json.dumps(_done(asked, content)))
    sys.stdout.flush()
    return 0


def _done(asked: dict[str, Any], content: bytes) -> dict[str, Any]:
    from keyctl.lib.errors import Refused
    from keyctl.lib.marked import RefusedInside

    module, _, name = asked["work"].partition(":")
    try:
        return {"done": getattr(import_module(module), name)(content, **asked["facts"])}
    except RefusedInside as refusal:
        return {"refused": refusal.text, "facts": refusal.facts, "reasons": []}
    except Refused as refusal:
        return {"refused": refusal.message, "reasons": refusal.reasons}


if __name__ == "__main__":
    sys.exit(main())
