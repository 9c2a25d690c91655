"""Data in and out: interfaces, imports, archives, prints."""

from tests.bench.wanted.entries import BUSY, Wanted

EXCHANGE: tuple[Wanted, ...] = (
    Wanted(
        "The feed of changes of 100,000 doors: its last page, against the first",
        "at most 1.3 times as long",
        lines=("feed: a page of *", "feed@postgresql: a page of *"),
        why=BUSY,
    ),
    Wanted(
        "Imports of 100,000 doors by a job, against 10,000",
        "at most 12 times as long",
        lines=("imports: doors, *: a tenth of *", "imports: cobie, *: a tenth of *"),
    ),
    Wanted(
        "Memory of an import of 100,000 doors",
        "below 512 MiB",
        lines=("imports: *: peak memory of the *",),
    ),
    Wanted(
        "Every list and every thing of the interface with 100,000 doors, against 1,000",
        "as many questions to the database, at most 1.3 times as long",
        lines=("api: *",),
        tests=("tests/api/test_query_counts.py::test_lists_and_things_of_twenty_cost_as_much_as_of_two",),
        tried="twenty things beside two",
        why="Answers of few milliseconds: a miss of the cache more shows in those that fetch rows far apart.",
    ),
    Wanted(
        "500 pinning sheets to PDF, against a minimal page with as many words",
        "at most 1.2 times as long for a page",
        lines=("prints: *",),
        why="The minimal page has no head, table, code or tags. Beside one with tags, which every print "
        "of ours has, it is met.",
    ),
    Wanted(
        "A keying schedule of 1,000 cores, against a table by the same setter",
        "at least 3 times as quick",
        lines=("lists: *",),
        why=BUSY,
    ),
    Wanted(
        "An archive of the estate out and in, 100,000 doors against 10,000, and 400 photos",
        "at most 12 times as long, below 512 MiB",
        lines=("archive: *",),
        why=BUSY,
    ),
    Wanted(
        "The clinic's workbook",
        "254 doors, 269 spaces, 5 floors; nothing new the second time",
        tests=(
            "tests/keyctl/imports/test_open_models.py::test_it_has_254_doors_and_269_spaces_on_5_floors_without_a_fault",
            "tests/keyctl/imports/test_open_models.py::test_the_clinic_gives_its_doors_once",
        ),
        tried="the open model",
    ),
    Wanted(
        "The duplex as workbook and as model",
        "the same 14 doors by identifier",
        tests=(
            "tests/keyctl/imports/test_open_models.py::test_workbook_and_model_of_the_duplex_are_the_same_doors",
        ),
        tried="both files",
    ),
    Wanted(
        "The estate out, into a new installation, and out again",
        "the same, byte for byte",
        tests=(
            "tests/keyctl/operations/test_archive.py::test_it_arrives_whole_under_other_keys_and_leaves_again_byte_for_byte",
        ),
        tried="one estate",
    ),
)
