"""A filter (RFC 7644, 3.4.2.2) as a question to the database, for the attributes that are kept there."""

import operator
from collections.abc import Callable
from datetime import MAXYEAR, MINYEAR, datetime
from functools import reduce
from typing import Any
from uuid import UUID

from django.db.models import Q
from django.utils.dateparse import parse_datetime
from scim2_models.path import (
    AttrPath,
    CompareOperator,
    Comparison,
    FilterNode,
    FilterVisitor,
    LogicalExpr,
    LogicalOperator,
    Not,
    Present,
    ScimFilter,
    ValuePath,
)

from keyctl.directory.selectors import called, identified
from keyctl.scim.errors import ScimRefusal
from keyctl.scim.resources import ENTERPRISE, Person

LONGEST = 500
MOST_TERMS = 20
LONGEST_MOMENT = 40
# Field of the database, and whether capitals matter.
TEXTS = {
    "username": ("user_name", False),
    "externalid": ("external_id", True),
    "displayname": ("display_name", False),
    "emails": ("email", False),
    "emails.value": ("email", False),
    "name.givenname": ("entry__given_name", False),
    "name.familyname": ("entry__family_name", False),
    f"{ENTERPRISE}:department".lower(): ("department", False),
    f"{ENTERPRISE}:employeenumber".lower(): ("entry__employee_number", False),
}
# What providers ask before each act: by an index.
EQUALS = {"username": called, "externalid": identified}
LOOKUPS = {"eq": "exact", "co": "contains", "sw": "startswith", "ew": "endswith"}
ORDERS = {"gt": "gt", "ge": "gte", "lt": "lt", "le": "lte"}


def question_of(text: str) -> Q:
    """
    >>> question_of('displayName co "ada"')
    <Q: (AND: ('display_name__icontains', 'ada'))>
    >>> question_of('active eq true and not (externalId sw "7")')
    <Q: (AND: ('is_active', True), (NOT (AND: ('external_id__startswith', '7'))))>
    """
    if len(text) > LONGEST:
        raise invalid(f"A filter is {LONGEST} signs long at most.")
    if text.count("(") + text.count("[") > MOST_TERMS:
        raise invalid("The filter is nested too deep.")
    try:
        tree = ScimFilter[Person](text).ast
    except RecursionError:
        raise invalid("The filter is nested too deep.") from None
    return _Questions().visit(tree)


def invalid(words: str) -> ScimRefusal:
    return ScimRefusal(400, words, "invalidFilter")


class _Questions(FilterVisitor[Q]):
    def __init__(self, inside: str = "") -> None:
        self.inside = inside

    def visit_comparison(self, node: Comparison) -> Q:
        name = self._name(node.attr_path)
        if node.op == CompareOperator.ne:
            return ~self._compared(name, CompareOperator.eq, node.value)
        return self._compared(name, node.op, node.value)

    def visit_present(self, node: Present) -> Q:
        name = self._name(node.attr_path)
        if name in {"id", "active", "meta", "meta.created", "meta.lastmodified"}:
            return Q(pk__isnull=False)
        if name == "name":
            return ~Q(entry__given_name="") | ~Q(entry__family_name="")
        field, _ = _text(name)
        return Q(**{f"{field}__gt": ""})

    def visit_not(self, node: Not) -> Q:
        return ~self.visit(node.expr)

    def visit_logical_expr(self, node: LogicalExpr) -> Q:
        join: Callable[[Q, Q], Q] = operator.and_ if node.op == LogicalOperator.and_ else operator.or_
        return reduce(join, [self.visit(term) for term in node.terms])

    def visit_value_path(self, node: ValuePath) -> Q:
        return _Questions(f"{self._name(node.attr_path)}.").visit(_node(node.val_filter))

    def _name(self, path: AttrPath) -> str:
        uri = str(path.uri or "").lower()
        name = f"{path.attr}.{path.sub_attr}" if path.sub_attr else str(path.attr)
        is_core = not uri or uri.endswith(":core:2.0:user")
        return self.inside + (name if is_core else f"{uri}:{name}").lower()

    def _compared(self, name: str, how: CompareOperator, value: Any) -> Q:
        if name == "id":
            return _by_id(how, value)
        if name == "active":
            return _by_state(how, value)
        if name in {"meta.created", "meta.lastmodified"}:
            return _by_moment("created_at" if name.endswith("created") else "changed_at", how, value)
        if name in {"emails.type", "emails.primary"} and self.inside:
            # One address is kept for keys: the primary one, which stands for each kind.
            return Q(pk__isnull=False)
        if name in EQUALS and how == CompareOperator.eq and isinstance(value, str):
            return EQUALS[name](value)
        field, is_exact = _text(name)
        if how.value not in LOOKUPS or not isinstance(value, str):
            raise invalid(f"{name} is not compared like this.")
        return Q(**{f"{field}__{'' if is_exact else 'i'}{LOOKUPS[how.value]}": value})


def _text(name: str) -> tuple[str, bool]:
    if name not in TEXTS:
        raise invalid(f"People are not found by {name[:60]}.")
    return TEXTS[name]


def _node(found: Any) -> FilterNode:
    return found  # type: ignore[no-any-return]  # the library says Any for what the grammar gives


def _by_id(how: CompareOperator, value: Any) -> Q:
    if how != CompareOperator.eq:
        raise invalid("id is compared by eq.")
    try:
        return Q(pk=UUID(str(value)))
    except ValueError:
        return Q(pk__in=[])


def _by_state(how: CompareOperator, value: Any) -> Q:
    words = {"true": True, "false": False}
    if how != CompareOperator.eq or str(value).lower() not in words:
        raise invalid("active is compared by eq with true or false.")
    return Q(is_active=words[str(value).lower()])


def _moment(text: str) -> datetime | None:
    """None for what no calendar has, and for years in which some time zones have no moment."""
    try:
        moment = parse_datetime(text)
    except ValueError:
        return None
    return moment if moment and MINYEAR < moment.year < MAXYEAR else None


def _by_moment(field: str, how: CompareOperator, value: Any) -> Q:
    moment = _moment(value) if isinstance(value, str) and len(value) <= LONGEST_MOMENT else None
    if moment is None or moment.tzinfo is None or how.value not in {*ORDERS, "eq"}:
        raise invalid("A moment is compared by its order, and written with its time zone.")
    return Q(**{f"{field}__{ORDERS.get(how.value, 'exact')}": moment})
