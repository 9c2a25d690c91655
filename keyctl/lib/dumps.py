"""No dump of this process's memory, in which a bitting may stand in the open."""

import ctypes
import resource

# prctl(2): a kernel that hands dumps to a program asks this, and not the limit (core(5)). Nor may another
# process of the same user look into this one.
PR_SET_DUMPABLE = 4


def refuse_dumps() -> None:
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    ctypes.CDLL(None, use_errno=True).prctl(PR_SET_DUMPABLE, 0, 0, 0, 0)
