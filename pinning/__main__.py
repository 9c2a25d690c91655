"""`python -m pinning FORM`: reads one JSON object from standard input and prints one."""

import json
import sys

from pinning.commands import answer, largest_input


def main(arguments: list[str]) -> int:
    form = arguments[0] if len(arguments) == 1 else " ".join(arguments)
    status, output = answer(form, sys.stdin.buffer.read(largest_input(form) + 1))
    print(json.dumps(output))
    return status


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
