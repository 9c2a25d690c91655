"""Pages: what they weigh, what they ask of a hand, how quick they are."""

from tests.bench.wanted.entries import BUSY, Wanted

FACE: tuple[Wanted, ...] = (
    Wanted(
        "The ten main tasks, by touch and scan and by keyboard alone",
        "three keys handed out in 8 acts, a swap in 6, a decision in 3; the others in what they took",
        lines=("acts: *",),
        tests=("tests/browser/test_acts.py::test_what_the_main_tasks_take",),
        tried="twenty walks, counted by the browser's own events",
    ),
    Wanted(
        "A page on its first load, uncompressed",
        "120 KB at most",
        lines=("weight: *",),
        tests=("tests/browser/test_sweep.py::test_every_page_is_sound",),
        tried="every page of the URL configuration; 390 px, twice the size, axe in both themes",
    ),
    Wanted(
        "A sign that something is waited for",
        "within 300 ms",
        tests=(
            "tests/browser/test_waiting.py::test_another_page_a_piece_of_one_and_a_file_show_that_they_are_waited_for",
            "tests/browser/test_waiting.py::test_what_is_fast_shows_no_sign",
        ),
        tried="pages, pieces of pages and files",
    ),
    Wanted(
        "From an empty installation to a proof without findings",
        "one walk, within an hour",
        tests=(
            "tests/browser/test_first_hour.py::test_an_empty_installation_is_a_proven_estate_within_an_hour",
        ),
        tried="once",
    ),
    Wanted(
        "The first page of the day with 100,000 doors, against 1,000",
        "as many questions to the database, at most 1.5 times as long",
        lines=("start: *",),
        why="As many questions; on a busy machine a run came out at 1.6 times for the locksmith.",
    ),
    Wanted(
        "Pictures of the estate with 100,000 doors, against 1,000",
        "at most 1.5 times as long; of a whole site at most as many times as there are more doors",
        lines=("maps: *",),
    ),
    Wanted(
        "The list of 100,000 doors with columns, views and acts, against plain columns",
        "at most 1.3 times as long",
        lines=("listing: *",),
        why="An order other than the list's own is found by the database over all rows.",
    ),
    Wanted(
        "The search over 100,000 doors, against 1,000",
        "at most as many times as long as there are more doors",
        lines=("search: * doors : 1,000, *", "search@postgresql: * doors : 1,000, *"),
        why=BUSY,
    ),
    Wanted(
        "Writes with the search's triggers, against without",
        "at most 5 % more",
        lines=("search: writing *", "search@postgresql: writing *"),
        why="A swap writes no word and pays nothing; a new name pays for a note that it is to be read again.",
    ),
)
