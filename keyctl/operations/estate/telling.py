"""What was found, in lines for whoever ran the command."""

from collections.abc import Callable

from keyctl.operations.looking import Outcome


def tell(outcome: Outcome, say: Callable[[str], object]) -> int:
    """Each law that is broken with its places and its remedy; returns how many breaches there are."""
    for each in outcome.breached:
        say(f"{each.law.name}: {each.law.words}. It does not:")
        for sentence in each.sentences:
            say(f"  {sentence}")
        say(f"  Remedy: {each.law.remedy}")
    for name, reason in outcome.left_out.items():
        say(f"{name}: not looked at. {reason}")
    say(f"{outcome.words} ({outcome.seconds:.1f} s)")
    return outcome.number
