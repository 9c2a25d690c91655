"""What can be wrong with a server or a tablet; every one must come to light in some hundred worlds."""

from enum import StrEnum


class Fault(StrEnum):
    FORGETS_WHAT_CAME = "takes a repeated fact for a new one"
    CHANGES_ITS_ANSWER = "answers a repeated fact by today's register"
    LAST_CLOCK_WINS = "lets the later clock decide a contradiction"
    MARKS_NO_DISPUTE = "opens a case and marks no core"
    WORKS_ON_DISPUTED = "goes on with a core while a case is open"
    LOOKS_AT_NO_VERSION = "takes a core whatever was done to it since"
    TRUSTS_NO_VERSION = "takes a core that the tablet never saw"
    LOOKS_AT_NO_OUT_VERSION = "takes a core out whatever was done to it since"
    LOOKS_AT_NO_CORE_OUT = "takes out whatever the register has in the door"
    SETTLES_BY_ONE = "gives a settled core the next version"
    KEEPS_VERSION = "settles a core under the version it had"
    STOPS_AT_A_BAD_ONE = "answers the rest of a batch after a bad fact and keeps none of it"
    ANSWERS_FIRST = "loses the end of a batch after it was answered"
    SEQUENCE_IS_NAME = "takes two facts with one number of one tablet for one"
    OBEYS_WITHDRAWN = "lets a withdrawn tablet act"
    REFUSES_FACTS = "rejects a fact that contradicts the register"
    WRITES_TWICE = "writes a second line of history"
    SEES_NO_GAP = "does not notice missing numbers"
    DISPUTES_ALL = "finds a contradiction in everything"
    FORGETS_REMARKS = "keeps no note, which changes nothing"
    ASKS_TOO_SOON = "a tablet that takes a pack while facts wait, and lays them over it once more"
