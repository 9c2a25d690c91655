"""Keys in people's hands: requests, losses, the register."""

from tests.bench.wanted.entries import BUSY, Wanted

CUSTODY: tuple[Wanted, ...] = (
    Wanted(
        "Keys for 40 doors of 100,000, proven, against HiGHS on the same question",
        "at least 10 times as quick; 3 times for 20 doors",
        lines=("suggest: fewest extra doors, *",),
        why="It holds against the model that one writes first, key by key. Against the stronger one, door by "
        "door, which ours has as well, it does not: both then know nearly as much.",
    ),
    Wanted(
        "The whole front of keys for doors, with a key for each door among 126,666",
        "at least 3 times as quick as HiGHS",
        lines=("suggest: whole front, *",),
        why="Processor seconds of hard questions differ by what the machine's cache holds.",
    ),
    Wanted(
        "A proven answer beside the quick one",
        "never more extra doors",
        lines=("suggest: extra doors, *",),
    ),
    Wanted(
        "The quick answer on a page, 100,000 doors and 126,667 keys",
        "less than 100 ms more than an empty page",
        lines=("asking: *",),
        why="102 ms for 40 doors and 140 ms for 60, beside other work: it grows with the doors asked for.",
    ),
    Wanted(
        "Keys for doors against searching all sets of keys",
        "10,000 random small estates without a difference",
        tests=(
            "tests/pinning/test_choosing.py::test_the_front_is_that_of_all_sets_of_keys",
            "tests/pinning/test_choosing.py::test_the_solver_finds_the_same_front_as_all_sets_of_keys",
        ),
        tried="20,000 estates by search, 2,000 of them by the solver",
    ),
    Wanted(
        "Pages of a lost top master over 100,000 cores, against a change key's",
        "at most 3 times as long",
        lines=("losses: losses:*",),
        why=BUSY,
    ),
    Wanted(
        "The register of custody and requests played at random",
        "25,000 steps, its law and the constraints hold after each",
        tests=("tests/keyctl/machine/test_machine.py::test_the_law_holds_after_every_step",),
        tried="25,000 steps on SQLite, 2,000 on PostgreSQL",
    ),
    Wanted(
        "Three keys handed out at the desk by keyboard",
        "in less than 15 s",
        tests=("tests/browser/test_desk.py::test_three_keys_go_out_in_less_than_15_seconds_without_a_mouse",),
        tried="once",
    ),
    Wanted(
        "Double approval, double issue, approval after withdrawal, issue of a lost copy",
        "one winner, one clear message",
        tests=(
            "tests/keyctl/approvals/test_two_managers_at_once.py::test_of_two_who_approve_at_once_one_wins",
            "tests/keyctl/keys/test_at_once.py::test_of_two_lists_that_share_a_key_one_is_issued_whole",
            "tests/keyctl/keys/test_at_once.py::test_what_is_withdrawn_while_it_is_approved_sets_nothing_aside",
            "tests/keyctl/keys/test_at_once.py::test_a_copy_lost_while_it_is_issued_is_lost_in_either_order",
        ),
        tried="both orders, on SQLite and PostgreSQL",
    ),
    Wanted(
        "A change key, a building's master and a top master lost",
        "each from the report to the proof in a browser",
        tests=(
            "tests/browser/test_losses.py::"
            "test_a_change_key_a_building_master_and_a_top_master_go_from_report_to_proof",
        ),
        tried="three keys of one system",
    ),
)
