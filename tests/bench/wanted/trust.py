"""What must not be lost, shown or changed; and how quick writing stays."""

from tests.bench.wanted.entries import BUSY, Wanted

TRUST: tuple[Wanted, ...] = (
    Wanted(
        "Swaps with their history over HTTP, eight clients, SQLite",
        "150 a second, 95 % within 60 ms, none above 500 ms; beside a bare write and no gate",
        lines=("swaps: ? process*",),
        why="A swap is some fifteen statements and a page that Django makes: that is its time, not the disk.",
    ),
    Wanted(
        "The same on PostgreSQL",
        "120 a second",
        lines=("swaps@postgresql: ? process*",),
        why="The same statements, each over a socket to a server on the same two cores.",
    ),
    Wanted(
        "Fifty who want one core in one moment",
        "one winner for a version, all answered within 1 s",
        lines=("swaps: 50 on one core, *", "swaps@postgresql: 50 on one core, *"),
        why="All fifty, and the server, share two cores; each who came second waits for a turn to learn it.",
    ),
    Wanted(
        "The longest wait of eight writers on SQLite, with the gate and without",
        "a third at most",
        lines=("writers: *",),
        why=BUSY,
    ),
    Wanted(
        "What the chain of history costs a move, and checking it",
        "1.6 times a move without; what is new in a third; a million entries in 30 s",
        lines=("history: *",),
        why="A million is scaled up from a hundred thousand; on a machine shared by eight it took that long.",
    ),
    Wanted(
        "The server killed amid swaps",
        "200 times in CI, 1,000 on demand on SQLite, 300 on PostgreSQL: nothing answered is missing",
        lines=("kills: *",),
        tests=("tests/faults/test_kill.py::test_what_was_answered_outlives_the_server",),
        tried="200 kills",
        why=BUSY,
    ),
    Wanted(
        "Edits behind the product's back",
        "500, all found by the verifier",
        tests=(
            "tests/keyctl/audit/test_tampering.py::test_five_hundred_edits_are_all_found",
            "tests/keyctl/audit/test_tampering_postgresql.py::test_five_hundred_edits_are_all_found",
        ),
        tried="500 on either database",
    ),
    Wanted(
        "Requests made up from the description of the interface",
        "8,000 without an error of ours",
        tests=(
            "tests/api/test_fuzz.py::test_no_request_breaks_the_api",
            "tests/api/test_fuzz.py::test_as_many_are_made_up_as_promised",
        ),
        tried="8,000, a quarter of them to the directory",
    ),
    Wanted(
        "Hostile files",
        "2,000 read or refused in words, each within 2 s and 512 MiB",
        tests=(
            "tests/hostile/test_readers.py::"
            "test_every_file_is_read_or_refused_in_words_in_time_and_in_little_memory",
        ),
        tried="2,000; the least of five readings where one took longer",
    ),
    Wanted(
        "A look at a bitting",
        "within 5 minutes of a sign-in",
        tests=(
            "tests/keyctl/accounts/test_proving.py::test_a_fresh_sign_in_is_let_through",
            "tests/keyctl/accounts/test_proving.py::test_an_old_one_is_led_to_a_proof",
        ),
        tried="the edges of the five minutes",
    ),
    Wanted(
        "Answers to tablets are kept",
        "400 days",
        tests=("tests/keyctl/field/test_forgetting.py::test_a_late_repeat_is_known_without_its_words",),
        tried="the day before and the day after",
    ),
    Wanted(
        "A new installation's tables by every migration",
        "within two minutes; at most 100 times as long as from the models",
        lines=("migrate: *", "migrate@postgresql: *"),
        why=BUSY,
    ),
)
