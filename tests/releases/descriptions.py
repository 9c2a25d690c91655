"""Whether a description of data goes on from an earlier one: whoever wrote a program by that one still can.

What is asked for may only get wider, what is answered may only gain: fields and words come, and none goes.
The rules are those that `keyctl/CHANGES.md` states; they know JSON Schema (2020-12) and OpenAPI 3.1.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

METHODS = {"get", "put", "post", "patch", "delete"}
# By keyword: whether a higher figure takes more.
BOUNDS = {
    "maxLength": True,
    "maximum": True,
    "maxItems": True,
    "exclusiveMaximum": True,
    "maxProperties": True,
    "minLength": False,
    "minimum": False,
    "minItems": False,
    "exclusiveMinimum": False,
}
SAME = ("format", "pattern", "const", "uniqueItems")
KINDS = ("oneOf", "anyOf", "allOf")
ALL_TYPES = {"null", "boolean", "integer", "number", "string", "array", "object"}

Node = Any


@dataclass
class Comparison:
    """Two descriptions and the way data goes: ``is_asked`` into the program, otherwise out of it."""

    old: Node
    new: Node
    is_asked: bool
    _seen: set[tuple[int, int]] = field(default_factory=set)

    def faults(self, old: Node, new: Node, place: str) -> Iterator[str]:
        old, new = resolved(self.old, old), resolved(self.new, new)
        if (id(old), id(new)) in self._seen or not isinstance(old, dict):
            return
        self._seen.add((id(old), id(new)))
        yield from self._type_faults(old, new, place)
        yield from self._words_faults(old, new, place)
        yield from self._bound_faults(old, new, place)
        yield from self._field_faults(old, new, place)
        yield from self._part_faults(old, new, place)

    def _type_faults(self, old: Node, new: Node, place: str) -> Iterator[str]:
        had, has = types(old), types(new)
        other = sorted(had - has if self.is_asked else has - had)
        words = "no longer takes" if self.is_asked else "may now be"
        yield from (f"{place}: {words} {name}" for name in other)
        for name in SAME:
            if old.get(name) != new.get(name) and (name in old or self.is_asked):
                yield f"{place}: another {name}"

    @staticmethod
    def _words_faults(old: Node, new: Node, place: str) -> Iterator[str]:
        """Words may come, in answers too: the statement says so. None goes."""
        if (
            "enum" in new
            and "enum" in old
            and (gone := [each for each in old["enum"] if each not in new["enum"]])
        ):
            yield f"{place}: no longer {gone}"
        if ("enum" in old) != ("enum" in new):
            yield f"{place}: a list of words came or went"

    def _bound_faults(self, old: Node, new: Node, place: str) -> Iterator[str]:
        if not self.is_asked:
            return
        for name, is_upper in BOUNDS.items():
            had, has = old.get(name), new.get(name)
            if has is not None and (had is None or (has < had if is_upper else has > had)):
                yield f"{place}: {name} is {has}, and was {had}"

    def _field_faults(self, old: Node, new: Node, place: str) -> Iterator[str]:
        had, has = old.get("properties", {}), new.get("properties", {})
        yield from (f"{place}.{name}: is gone" for name in had if name not in has)
        wanted, given = set(new.get("required", ())), set(old.get("required", ()))
        more = wanted - given if self.is_asked else given - wanted
        word = "must now be sent" if self.is_asked else "may now be missing"
        yield from (f"{place}.{name}: {word}" for name in sorted(more))
        for name in had.keys() & has.keys():
            yield from self.faults(had[name], has[name], f"{place}.{name}")

    def _part_faults(self, old: Node, new: Node, place: str) -> Iterator[str]:
        if isinstance(old.get("items"), dict):
            yield from self.faults(old["items"], new.get("items", {}), f"{place}[]")
        if isinstance(old.get("additionalProperties"), dict):
            further = new.get("additionalProperties", {})
            yield from self.faults(old["additionalProperties"], further, f"{place}.*")
        for kind in KINDS:
            had, has = old.get(kind, []), new.get(kind, [])
            if len(has) < len(had) or (kind == "allOf" and len(has) != len(had)):
                yield f"{place}: has other parts"
            for at, (one, other) in enumerate(zip(had, has, strict=False)):
                yield from self.faults(one, other, f"{place}/{kind}{at}")


def types(node: Node) -> set[str]:
    """What it may be; a number takes whole ones too."""
    told = node.get("type", sorted(ALL_TYPES))
    found = {told} if isinstance(told, str) else set(told)
    return found | {"integer"} if "number" in found else found


def resolved(whole: Node, node: Node) -> Node:
    while isinstance(node, dict) and "$ref" in node:
        found = whole
        for name in node["$ref"].removeprefix("#/").split("/"):
            found = found[name.replace("~1", "/").replace("~0", "~")]
        node = found
    return node


def api_faults(old: Node, new: Node) -> Iterator[str]:
    """Of two descriptions of an API."""
    for path, operations in old["paths"].items():
        for method in METHODS & operations.keys():
            there = new["paths"].get(path, {}).get(method)
            if there is None:
                yield f"{method} {path}: is gone"
            else:
                yield from _operation_faults((old, operations[method]), (new, there), f"{method} {path}")
    for name, message in old.get("webhooks", {}).items():
        there = new.get("webhooks", {}).get(name)
        if there is None:
            yield f"webhook {name}: is gone"
        else:
            bodies = message["post"]["requestBody"], there["post"]["requestBody"]
            yield from _content_faults(Comparison(old, new, is_asked=False), *bodies, f"webhook {name}")


def _operation_faults(old: tuple[Node, Node], new: tuple[Node, Node], place: str) -> Iterator[str]:
    asked = Comparison(old[0], new[0], is_asked=True)
    yield from _parameter_faults(asked, old[1], new[1], place)
    had, has = (resolved(whole, operation.get("requestBody", {})) for whole, operation in (old, new))
    if has.get("required") and not had.get("required"):
        yield f"{place}: a body must now be sent"
    yield from _content_faults(asked, had, has, f"{place} body")
    answered = Comparison(old[0], new[0], is_asked=False)
    for code, response in old[1]["responses"].items():
        there = resolved(new[0], new[1]["responses"].get(code))
        if there is None:
            yield f"{place}: {code} is gone"
            continue
        had = resolved(old[0], response)
        yield from _content_faults(answered, had, there, f"{place} {code}")
        gone = had.get("headers", {}).keys() - there.get("headers", {}).keys()
        yield from (f"{place} {code}: header {name} is gone" for name in sorted(gone))


def _parameter_faults(compared: Comparison, old: Node, new: Node, place: str) -> Iterator[str]:
    had, has = _parameters(compared.old, old), _parameters(compared.new, new)
    for key, there in has.items():
        if there.get("required") and not had.get(key, {}).get("required"):
            yield f"{place}: parameter {key[1]} must now be sent"
    for key, parameter in had.items():
        if key not in has:
            yield f"{place}: parameter {key[1]} is gone"
        else:
            yield from compared.faults(parameter["schema"], has[key]["schema"], f"{place} ?{key[1]}")


def _parameters(whole: Node, operation: Node) -> dict[tuple[str, str], Node]:
    found = (resolved(whole, each) for each in operation.get("parameters", ()))
    return {(each["in"], each["name"]): each for each in found}


def _content_faults(compared: Comparison, old: Node, new: Node, place: str) -> Iterator[str]:
    for kind, content in old.get("content", {}).items():
        there = new.get("content", {}).get(kind)
        if there is None:
            yield f"{place}: {kind} is gone"
        else:
            yield from compared.faults(content.get("schema", {}), there.get("schema", {}), place)


def command_faults(old: Node, new: Node) -> Iterator[str]:
    """Of two JSON Schemas of `python -m pinning`."""
    for name, form in old["$defs"].items():
        if not name.endswith(("_input", "_output")) and name != "refused":
            continue
        if name not in new["$defs"]:
            yield f"{name}: is gone"
        else:
            compared = Comparison(old, new, is_asked=name.endswith("_input"))
            yield from compared.faults(form, new["$defs"][name], name)
