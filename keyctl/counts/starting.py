"""Named sets of rules to start from, each value with where it stands; the local regulation decides.

Read in public texts: NIST SP 800-53 Rev. 5 (PE-3) and the values FedRAMP puts into it; a course text of the
United States Army on the security of arms stores, which repeats AR 190-11; the key policies of two
universities. Where a source says nothing, the value is our own choice and says so. What is cited stays in the
language of its source.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from django.utils.translation import gettext_lazy

from keyctl.counts.models import CountRule
from keyctl.lib.language import Text

Subject = CountRule.Subject
OWN_CHOICE = gettext_lazy("Not said by the source; our own choice")


@dataclass(frozen=True)
class Value:
    """One value of a set: what it says, and where it stands."""

    label: Text
    words: Text
    source: Text


@dataclass(frozen=True)
class StartingSet:
    """``rules`` gives, per subject, the facts of its rule; ``values`` is the same for a reader."""

    name: str
    label: Text
    about: Text
    source: str
    rules: Mapping[CountRule.Subject, Mapping[str, Any]]
    values: tuple[Value, ...]
    also: Text = field(default="")


PE3 = "NIST SP 800-53 Rev. 5, PE-3 f"
PE3_FEDRAMP = f"{PE3} with FedRAMP’s value"
AR = "AR 190-11, as a public Army course text on key and lock inventories repeats it"
AR_SHORT = "AR 190-11 and AR 190-51"
UNIVERSITIES = (
    "Iowa State University, Key and Building Access Card Policy (yearly audit, 2010); "
    "Texas A&M University-Commerce, Key Control Guidelines (departments count yearly)"
)

YEARLY = {"interval_months": 12, "retention_days": 1095}
IN_THE_ARMY = {"interval_months": 6, "retention_days": 365, "missing_days": 3}

NIST = StartingSet(
    name="nist",
    label=gettext_lazy("Yearly, after NIST SP 800-53 and FedRAMP"),
    about=gettext_lazy("Physical access devices, keys among them, are inventoried at least once a year."),
    source=f"{PE3_FEDRAMP}: at least annually. Witness, records and days: our own choice.",
    rules={
        Subject.CABINETS: {"on_new_custodian": True, **YEARLY},
        Subject.HOLDERS: YEARLY,
        Subject.MASTERS: {"needs_witness": True, **YEARLY},
    },
    values=(
        Value(
            gettext_lazy("Interval"),
            gettext_lazy("every year: cabinets, holders, master keys by serial"),
            f"{PE3_FEDRAMP}: at least annually",
        ),
        Value(gettext_lazy("Witness"), gettext_lazy("for master keys"), OWN_CHOICE),
        Value(gettext_lazy("New custodian"), gettext_lazy("forces a count; handing out goes on"), OWN_CHOICE),
        Value(gettext_lazy("Holder’s own word"), gettext_lazy("does not count as seen"), OWN_CHOICE),
        Value(gettext_lazy("Missing key"), gettext_lazy("proposed as lost after 14 days"), OWN_CHOICE),
        Value(gettext_lazy("Records"), gettext_lazy("kept three years"), OWN_CHOICE),
    ),
    also=gettext_lazy(
        "PE-3 g also asks that keys are changed at a set frequency (FedRAMP: at least yearly, or earlier "
        "after a security event) and when keys are lost or people who have them are transferred or leave. "
        "That is work for orders and cases of loss, not for a count."
    ),
)

ARMY = StartingSet(
    name="army",
    label=gettext_lazy("Half-yearly by serial, in the Army’s manner"),
    about=gettext_lazy("Keys are counted by serial twice a year and whenever the custodian changes."),
    source=f"{AR_SHORT}: every half-year, by serial, at each change of custody; records one year. Read in a "
    "public course text. Witness and days: our own choice.",
    rules={
        Subject.CABINETS: {
            "needs_witness": True,
            "on_new_custodian": True,
            "blocks_issuing": True,
            **IN_THE_ARMY,
        },
        Subject.HOLDERS: IN_THE_ARMY,
        Subject.MASTERS: {"needs_witness": True, **IN_THE_ARMY},
        Subject.CRITICAL: {"needs_witness": True, **IN_THE_ARMY},
    },
    values=(
        Value(gettext_lazy("Interval"), gettext_lazy("every half-year, by serial"), f"{AR}: semiannually"),
        Value(
            gettext_lazy("New custodian"),
            gettext_lazy("forces a count, signed by both"),
            f"{AR}: the inventory and the change are recorded",
        ),
        Value(gettext_lazy("Handing out meanwhile"), gettext_lazy("waits for the count"), OWN_CHOICE),
        Value(
            gettext_lazy("Witness"), gettext_lazy("for cabinets, master keys and critical keys"), OWN_CHOICE
        ),
        Value(
            gettext_lazy("Holder’s own word"),
            gettext_lazy("does not count as seen"),
            f"{AR}: by serial number",
        ),
        Value(gettext_lazy("Missing key"), gettext_lazy("proposed as lost after 3 days"), OWN_CHOICE),
        Value(
            gettext_lazy("Records"),
            gettext_lazy("kept one year"),
            f"{AR}: inventories one year, key registers 90 days at the least",
        ),
    ),
    also=gettext_lazy(
        "Some units keep records only until the next inventory supersedes them. Ask your security officer."
    ),
)

UNIVERSITY = StartingSet(
    name="university",
    label=gettext_lazy("Yearly with the holders’ own word, as universities do"),
    about=gettext_lazy(
        "Every holder is asked once a year to confirm the keys they have; cabinets are counted as well."
    ),
    source=f"{UNIVERSITIES}. Witness, missing days for cabinets and records: our own choice.",
    rules={
        Subject.CABINETS: {"on_new_custodian": True, **YEARLY},
        Subject.HOLDERS: {"accepts_declared": True, **YEARLY},
        Subject.MASTERS: {"needs_witness": True, **YEARLY},
    },
    values=(
        Value(gettext_lazy("Interval"), gettext_lazy("every year: holders and cabinets"), UNIVERSITIES),
        Value(
            gettext_lazy("Holder’s own word"),
            gettext_lazy("counts, and is marked as such"),
            "Iowa State University: holders are asked by mail to confirm their list",
        ),
        Value(
            gettext_lazy("Missing key"),
            gettext_lazy("proposed as lost after 14 days"),
            "Iowa State University: two weeks to answer; afterwards our own choice",
        ),
        Value(gettext_lazy("Master keys"), gettext_lazy("every year by serial, with a witness"), OWN_CHOICE),
        Value(gettext_lazy("New custodian"), gettext_lazy("forces a count; handing out goes on"), OWN_CHOICE),
        Value(gettext_lazy("Records"), gettext_lazy("kept three years"), OWN_CHOICE),
    ),
)

SETS: Mapping[str, StartingSet] = {each.name: each for each in (NIST, ARMY, UNIVERSITY)}
