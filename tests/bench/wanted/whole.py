"""The whole at size: a hundred thousand doors, sixty people, a university."""

from tests.bench.wanted.entries import Wanted

WHOLE: tuple[Wanted, ...] = (
    Wanted(
        "The invented estate",
        "3 sites, 12 buildings, 600 doors, 640 cores, 900 copies, 60 holders, two years; no disagreement",
        tests=(
            "tests/keyctl/demo/test_demo.py::test_it_is_as_large_as_promised",
            "tests/keyctl/demo/test_demo.py::test_history_reaches_back_two_years",
            "tests/keyctl/demo/test_demo.py::test_the_summary_counts_the_pairs_and_no_disagreement",
        ),
        tried="the estate as `manage.py demo` makes it",
    ),
    Wanted(
        "An invented estate of 100,000 doors",
        "20 sites, 120,000 keys, 1,000,000 events within 15 minutes and 4 GB",
        lines=("demo: *",),
        why="One process makes it, beside other measurements on the same two cores: 29 minutes of a "
        "processor, 37 by the clock. It is made in parts, and a run that was stopped goes on.",
    ),
    Wanted(
        "Sixty people at work for ten minutes, two web processes and two workers: errors",
        "none answered, none in the logs, no act missing and no law broken afterwards",
        lines=("load-*: errors *", "load-*: acts and laws broken *"),
    ),
    Wanted(
        "The same: how long they wait, and memory",
        "each kind of page and of act within a second; workers soon; memory flat",
        lines=("load-*: p95 of *", "load-*: memory of *"),
        why="The sixty, two web processes, two workers and the database share two cores.",
    ),
    Wanted(
        "Every address that reads with 100,000 doors, against 1,000",
        "as many questions to the database; none over 300 ms without a sign",
        lines=("pages: *",),
        tests=(
            "tests/budgets/test_queries.py::test_no_address_takes_more_queries_where_more_is_there",
            "tests/budgets/test_queries.py::test_every_address_keeps_to_its_budget",
        ),
        tried="every address in two estates",
        why="Ten addresses that count, draw or pack a whole site or all sites take longer: a tablet's pack "
        "4.3 s, exposure of the estate 4 s, the law of keys 3.2 s, exposure of a site 1.5 s, the others "
        "two thirds of a second or less.",
    ),
    Wanted(
        "A university of two million doors, on the real tables",
        "told: sizes, history by site and year, copies for reading, workers by queue",
        lines=("paper-*: *",),
    ),
    Wanted(
        "Files and functions",
        "400 lines and 50 lines at most",
        tests=(
            "tests/test_layout.py::test_no_file_is_longer_than_400_lines",
            "tests/test_layout.py::test_no_function_is_longer_than_50_lines",
        ),
        tried="every file",
    ),
)
