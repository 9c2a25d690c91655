"""Every act on keys, copies and the people who hold them; each is a line of history."""

from keyctl.keys.services.breaking import destroy_copy, report_broken
from keyctl.keys.services.cabinets import change_custodian, open_cabinet, rename_cabinet
from keyctl.keys.services.cutting import cut_copies
from keyctl.keys.services.deposits import give_back_deposit, keep_deposit
from keyctl.keys.services.desk_settings import change_desk_settings, publish_terms
from keyctl.keys.services.finding import take_found
from keyctl.keys.services.holders import (
    change_holder,
    deactivate_holder,
    own_holder,
    reactivate_holder,
    register_holder,
)
from keyctl.keys.services.issuing import hand_out, issue_keys, usual_end
from keyctl.keys.services.ledger import MOST_AT_ONCE, locked_holder
from keyctl.keys.services.losing import report_lost
from keyctl.keys.services.moving import move_copies
from keyctl.keys.services.prolonging import change_due
from keyctl.keys.services.returning import return_keys, take_back
from keyctl.keys.services.transferring import transfer_keys
from keyctl.keys.signing import Signature

__all__ = [
    "MOST_AT_ONCE",
    "Signature",
    "change_custodian",
    "change_desk_settings",
    "change_due",
    "change_holder",
    "cut_copies",
    "deactivate_holder",
    "destroy_copy",
    "give_back_deposit",
    "hand_out",
    "issue_keys",
    "keep_deposit",
    "locked_holder",
    "move_copies",
    "open_cabinet",
    "own_holder",
    "publish_terms",
    "reactivate_holder",
    "register_holder",
    "rename_cabinet",
    "report_broken",
    "report_lost",
    "return_keys",
    "take_back",
    "take_found",
    "transfer_keys",
    "usual_end",
]
