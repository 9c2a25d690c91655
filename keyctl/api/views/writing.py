"""Writes, mixed in before ``Resource``: a resource says which facts come in and which service takes them.

    @described("Doors", "One door", DoorSerializer, DoorFilters)
    @written("a door", new=NewDoorSerializer, change=DoorChangeSerializer)
    class Doors(Creates, Changes, Resource):
        scopes = {"GET": Scope.ESTATE_READ, "POST": Scope.ESTATE_WRITE, "PATCH": Scope.ESTATE_WRITE}

        def make(self, facts: Facts) -> Door:
            return add_door(actor=self.actor, **facts)

        def change(self, row: Door, facts: Facts) -> None:
            change_door(actor=self.actor, door=row, **facts)

A change is compared with the state it was made for under the lock of its row, and done in the transaction
that holds it.
"""

from collections.abc import Callable
from functools import wraps
from typing import Any, ClassVar, TypeVar
from uuid import UUID

from django.db import transaction
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.reverse import reverse

from keyctl.api import problems
from keyctl.api.etags import allows_change, is_well_formed, tag_of
from keyctl.api.once import answer_kept, read_key
from keyctl.api.problems import BadHeader, Problem
from keyctl.api.schema import answers
from keyctl.api.serializers.fields import StrictSerializer
from keyctl.api.terms import Terms, under
from keyctl.api.views.base import Resource, read_filters
from keyctl.api.views.wording import CHANGE_REFUSALS, MOST_ITEMS, Asked
from keyctl.api.views.wording import written as written  # noqa: PLC0414 (resources take it from here, with the rest)

Facts = dict[str, Any]
Row = TypeVar("Row")
Act = Callable[[Any, Any, Facts], Any]

IF_MATCH = "If-Match"


class Writing(Resource):
    """What all writes share. ``detail_route`` is the route of one row, where the answer's Location leads."""

    detail_route: ClassVar[str] = ""

    def facts(self, facts_class: Asked, body: Any) -> Facts:
        read_filters(self.request, StrictSerializer, others=())
        sent = facts_class(data=body)
        sent.is_valid(raise_exception=True)
        return dict(sent.validated_data)

    def fresh(self, pk: Any) -> dict[str, Any]:
        """The whole representation as it is now."""
        return self.whole(self.rows({}).get(pk=pk))

    def place_of(self, pk: Any) -> str:
        return str(reverse(f"api:{self.detail_route}", args=[pk], request=self.request))

    def lock(self, pk: UUID) -> None:
        """Hold the row before its state is compared. Where an act locks others first, this does too."""
        model = self.rows({}).model
        list(model._default_manager.select_for_update(of=("self",)).filter(pk=pk).values("pk"))

    def matched(
        self, request: Request, pk: UUID, facts_class: Asked, act: Callable[[Any, Facts], Response]
    ) -> HttpResponseBase:
        """``act`` on a row that is still as If-Match says, under its lock."""
        if (kept := answer_kept(request, self.token, read_key(request))) is not None:
            return kept
        get_object_or_404(self.rows({}), pk=pk)
        asked = _tag_asked(request)
        facts = self.facts(facts_class, request.data)

        def work() -> Response:
            self.lock(pk)
            row = get_object_or_404(self.rows({}), pk=pk)
            _refuse_other_state(self.whole(row), asked)
            return act(row, facts)

        return self.once(request, work)

    def changed(self, pk: Any) -> Response:
        """The answer to a change: the new state and its tag."""
        whole = self.fresh(pk)
        return Response(whole, headers={"ETag": tag_of(whole)})


class Creates(Writing):
    """POST to the list. ``make`` hands the facts to the service and returns the new row."""

    new_class: Asked

    def make(self, facts: Facts) -> Any:
        raise NotImplementedError

    @under(Terms(key="optional"))
    def create(self, request: Request) -> HttpResponseBase:
        facts = self.facts(self.new_class, request.data)
        return self.once(request, lambda: self._made(facts))

    def _made(self, facts: Facts) -> Response:
        pk = self.make(facts).pk
        whole = self.fresh(pk)
        headers = {"Location": self.place_of(pk), "ETag": tag_of(whole)}
        return Response(whole, status=status.HTTP_201_CREATED, headers=headers)


class Changes(Writing):
    """PATCH of one: the facts that are sent replace those of the row, the others stay."""

    change_class: Asked

    def change(self, row: Any, facts: Facts) -> Any:
        raise NotImplementedError

    @under(Terms(is_matched=True, key="optional"))
    def partial_update(self, request: Request, pk: UUID) -> HttpResponseBase:
        def act(row: Any, facts: Facts) -> Response:
            self.change(row, facts)
            return self.changed(pk)

        return self.matched(request, pk, self.change_class, act)


class Removes(Writing):
    """DELETE of one."""

    def remove(self, row: Any) -> Any:
        raise NotImplementedError

    @under(Terms(is_matched=True, key="optional"))
    def destroy(self, request: Request, pk: UUID) -> HttpResponseBase:
        def act(row: Any, _facts: Facts) -> Response:
            self.remove(row)
            return Response(status=status.HTTP_204_NO_CONTENT)

        return self.matched(request, pk, StrictSerializer, act)


class Bulk(Creates):
    """POST of many to ``<list>/bulk/``: each is made or refused by itself, and told by itself."""

    @under(Terms(key="required"))
    def bulk(self, request: Request) -> HttpResponseBase:
        items = _items(request.data)
        read_filters(request, StrictSerializer, others=())
        return self.once(request, lambda: self._each(items), required=True)

    def _each(self, items: list[Any]) -> Response:
        results = [self._one(place, item) for place, item in enumerate(items)]
        done = sum("problem" not in each for each in results)
        return Response({"done": done, "refused": len(results) - done, "results": results})

    def _one(self, place: int, item: Any) -> dict[str, Any]:
        try:
            with transaction.atomic():
                made = self._made(self.facts(self.new_class, item))
        except Exception as fault:
            told = problems.answer(fault, {})
            if told is None:
                raise
            return {"index": place, "status": told.status_code, "problem": _inside(told.data, place)}
        return {
            "index": place,
            "status": made.status_code,
            "location": made["Location"],
            "etag": made["ETag"],
            "value": made.data,
        }


def act(summary: str, facts_class: Asked, answer: Asked, *refusals: int) -> Callable[[Act], Any]:
    """POST to ``<detail>/<verb>/``: a change of one with a name of its own, matched like any other.

        @act("Take a copy back", TakeBackSerializer, CopySerializer)
        def take_back(self, row, facts):
            take_back(actor=self.actor, copy=row, **facts)

    It answers with the row as it is then, or with what the method returns if that is a ``Response``.
    """

    def wrap(method: Act) -> Any:
        @extend_schema(
            summary=summary,
            request=facts_class,
            responses=answers({200: answer}, *CHANGE_REFUSALS, *refusals),
        )
        @under(Terms(is_matched=True, key="optional"))
        @wraps(method)
        def handler(self: Any, request: Request, pk: UUID) -> HttpResponseBase:
            def work(row: Any, facts: Facts) -> Response:
                told = method(self, row, facts)
                return told if isinstance(told, Response) else self.changed(pk)

            matched: HttpResponseBase = self.matched(request, pk, facts_class, work)
            return matched

        return handler

    return wrap


def one_of(visible: Any, pk: Any, name: str) -> Any:
    """The row that a fact names; an unknown or foreign one is told by its place."""
    found = visible.filter(pk=pk).first()
    if found is None:
        raise serializers.ValidationError({name: [f"This token reaches no such thing: {pk}."]})
    return found


def _tag_asked(request: Request) -> str:
    asked = request.headers.get(IF_MATCH)
    if asked is None:
        raise Problem("tag-missing")
    if not is_well_formed(asked):
        raise BadHeader({IF_MATCH: ["Send the ETag as it came, with its quotation marks."]})
    return asked


def _refuse_other_state(whole: dict[str, Any], asked: str) -> None:
    tag = tag_of(whole)
    if not allows_change(asked, tag):
        raise Problem("changed-meanwhile", headers={"ETag": tag}, more={"current": whole})


def _items(body: Any) -> list[Any]:
    items = body.get("items") if isinstance(body, dict) and set(body) == {"items"} else None
    if not isinstance(items, list) or not 1 <= len(items) <= MOST_ITEMS:
        words = f'Write {{"items": […]}} with 1 to {MOST_ITEMS} of them.'
        raise serializers.ValidationError({"items": [words]})
    return items


def _inside(problem: Any, place: int) -> Any:
    """The pointers of an item's problem, as they lead through the whole body."""
    for error in problem.get("errors", ()):
        if "pointer" in error:
            error["pointer"] = f"#/items/{place}{error['pointer'].removeprefix('#')}"
    return problem
