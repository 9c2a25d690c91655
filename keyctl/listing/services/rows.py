"""The steps of an act for one row: tried and taken back, done, undone. Always by the row's own service."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any

from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.db.models import Model
from django.http import Http404
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.selectors import history_of
from keyctl.lib.errors import Refused
from keyctl.listing.declaring import Act, List
from keyctl.listing.models import BulkRow
from keyctl.listing.snapshots import as_before, digest, facts_of, words_of
from keyctl.places.selectors import visible_history

State = BulkRow.State
LONGEST_REASON = 400


class Hand:
    """An act in somebody's hand, with what they said of it."""

    def __init__(self, actor: User, found: List, act: Act, facts: Mapping[str, Any]) -> None:
        self.actor, self.list, self.act, self.facts = actor, found, act, facts

    def rows(self, batch: list[BulkRow]) -> dict[Any, Model]:
        """Locked in one order, then read as this person sees them."""
        wanted = [each.row_id for each in batch]
        held = self.list.model._base_manager.select_for_update().filter(pk__in=wanted)
        list(held.order_by(*self.list.worked_by).values_list("pk"))
        return {row.pk: row for row in self._seen(wanted)}

    def try_row(self, kept: BulkRow, row: Model | None) -> None:
        """The service does it, and all of it is taken back: so what is shown is what would happen."""
        if row is None:
            return _say(kept, State.REFUSED, _("It is not there any more, or not for you."))
        kept.seen, kept.site_id = digest(row), self._site_of(row)
        kept.before = facts_of(row, self.act.touches)
        was = words_of(row, self.act.touches)
        with self._asked(kept, State.REFUSED), transaction.atomic():
            self.act.does(self.actor, row, **self.facts)
            after = self._again(row)
            kept.after = facts_of(after, self.act.touches)
            becomes = words_of(after, self.act.touches)
            kept.words = {name: [was[name], becomes[name]] for name in was if was[name] != becomes[name]}
            _say(kept, State.SAME if kept.after == kept.before else State.WOULD)
            transaction.set_rollback(True)
        return None

    def do_row(self, kept: BulkRow, row: Model | None) -> None:
        if row is None:
            return _say(kept, State.LEFT, _("It is not there any more, or not for you."))
        if digest(row) != kept.seen:
            return _say(
                kept,
                State.LEFT,
                _("It was changed after it was tried{by}.").format(by=_last(self.actor, row)),
            )
        with self._asked(kept, State.REFUSED), transaction.atomic():
            self.act.does(self.actor, row, **self.facts)
            after = self._again(row)
            if facts_of(after, self.act.touches) != kept.after:
                raise Refused(_("It would become something else than was shown. Try it again."))
            kept.left, kept.event = digest(after), _last_event(after)
            _say(kept, State.DONE)
        return None

    def undo_row(self, kept: BulkRow, row: Model | None) -> None:
        if row is None:
            return _say(kept, State.KEPT, _("It is not there any more, or not for you."))
        if digest(row) != kept.left or _last_event(row) != kept.event:
            return _say(
                kept,
                State.KEPT,
                _("Something else has touched it since{by}.").format(by=_last(self.actor, row)),
            )
        with self._asked(kept, State.KEPT), transaction.atomic():
            self.act.undoes(self.actor, row, as_before(self.list.model, kept.before))
            if facts_of(self._again(row), self.act.touches) != kept.before:
                raise Refused(_("It would not become what it was. Change it on its own page."))
            _say(kept, State.UNDONE)
        return None

    @contextmanager
    def _asked(self, kept: BulkRow, refused: State) -> Iterator[None]:
        try:
            yield
        except Refused as refusal:
            _say(kept, refused, " ".join(refusal.sentences))
        except (PermissionDenied, Http404):
            _say(kept, refused, _("Your roles at its site do not allow this."))

    def _seen(self, pks: list[Any]) -> Iterator[Any]:
        return self.list.rows(self.actor, {}).filter(pk__in=pks).order_by().iterator(1000)

    def _again(self, row: Model) -> Model:
        return self.list.model._base_manager.get(pk=row.pk)

    def _site_of(self, row: Model) -> Any:
        site: Any = row
        for name in self.list.site.split("__"):
            site = getattr(site, name)
        return site.pk


def _say(kept: BulkRow, state: State, reason: str = "") -> None:
    kept.state, kept.reason = state, reason[:LONGEST_REASON]


def _last_event(row: Model) -> int:
    """0 where history has none of it yet."""
    return history_of(row).values_list("pk", flat=True).first() or 0


def _last(actor: User, row: Model) -> str:
    """As far as this person reads its history: it may have been at another site."""
    last = visible_history(actor, row).first()
    return f": {last.actor_name} {last.sentence}" if last else ""
