"""The receipt of an act at the key desk: who took or brought which keys, what was signed, by whom.

Keys stand on it by their serials alone: whoever finds a receipt and a key must not learn a door.
"""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext, gettext_lazy

from keyctl.accounts.models import User
from keyctl.audit.proofs import Witness, witness_of
from keyctl.audit.selectors import history_of
from keyctl.audit.services import record
from keyctl.desk.access import is_own
from keyctl.desk.services.receipts import RECEIPT
from keyctl.keys.access import READERS
from keyctl.keys.models import Custody, Deposit, Handover, Terms
from keyctl.keys.signing import HEIGHT, WIDTH
from keyctl.notices.services import register_attachment
from keyctl.places.access import require_role
from keyctl.prints.frame import Head, set_print
from keyctl.prints.pdf import require_printer
from keyctl.vault import services as vault

KEEPING = gettext_lazy("This receipt names keys by serial only. Keep it apart from the keys.")


@dataclass(frozen=True)
class KeyOnReceipt:
    serial: str
    # When it is due back, or how it came back.
    words: str
    holder: str


@dataclass(frozen=True)
class Receipt:
    act: Handover
    keys: tuple[KeyOnReceipt, ...]
    names_holders: bool
    deposit: Deposit | None
    terms: Terms | None
    strokes: str
    made_at: datetime
    witness: Witness | None
    width: int = WIDTH
    height: int = HEIGHT

    @property
    def title(self) -> str:
        kinds = {Handover.Way.OUT: gettext("Keys handed out"), Handover.Way.BACK: gettext("Keys returned")}
        return kinds.get(Handover.Way(self.act.way), gettext("Keys transferred"))


def print_receipt(*, actor: User, act: Handover) -> tuple[str, bytes]:
    """Name and content. History knows of it: a signature stands on it."""
    if not is_own(actor, act):
        require_role(actor, act.site, *READERS)
    require_printer()
    with transaction.atomic():
        record(
            actor=actor,
            verb="handover.receipt_printed",
            sentence=f"printed the receipt of act {act.number}",
            site_id=act.site_id,
            subjects=[act, *([act.holder] if act.holder else [])],
        )
    name, _, content = make_receipt(act.pk)
    return name, content


def make_receipt(pk: UUID) -> tuple[str, str, bytes]:
    """The paper that goes with a mail."""
    act = Handover.objects.select_related("site", "holder", "by", "terms").get(pk=pk)
    receipt = receipt_of(act)
    head = Head(
        kind=gettext("Receipt {number}").format(number=act.number),
        title=receipt.title,
        made_by=str(act.by),
        made_at=receipt.made_at,
        site=str(act.site),
        number=gettext("Receipt {number}").format(number=act.number),
        foot=KEEPING,
    )
    content = set_print("prints/receipt.html", head, receipt=receipt)
    return f"receipt-{act.number}.pdf", "application/pdf", content


def receipt_of(act: Handover) -> Receipt:
    is_back = act.way == Handover.Way.BACK
    lines = (act.lines_back if is_back else act.lines_out).select_related("copy", "holder")
    return Receipt(
        act=act,
        keys=tuple(_key(line, is_back=is_back) for line in lines.order_by("copy__serial")),
        names_holders=act.holder is None,
        deposit=Deposit.objects.filter(handover=act).first(),
        terms=act.terms,
        strokes=vault.unseal(act, "signature") if act.signature else "",
        made_at=timezone.localtime(),
        # The first event about an act is the act itself.
        witness=witness_of(history_of(act).order_by("pk").first()),
    )


def register_receipts() -> None:
    register_attachment(RECEIPT, make_receipt)


def _key(line: Custody, *, is_back: bool) -> KeyOnReceipt:
    if not is_back:
        return KeyOnReceipt(str(line.copy), line.due_words or gettext("when asked for"), str(line.holder))
    parts = [
        gettext("brought by {name}").format(name=line.brought_by) if line.brought_by else "",
        line.condition_back,
    ]
    return KeyOnReceipt(
        str(line.copy), ", ".join(filter(None, parts)) or gettext("in order"), str(line.holder)
    )
