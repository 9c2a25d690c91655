"""Who keeps something by the blank table. Formats lie below cores: whoever stores turns says so here."""

from typing import Protocol

from keyctl.formats.models import KeywayFit


class Fitter(Protocol):
    """Registered once, in an ``AppConfig.ready()``."""

    def keyways(self) -> list[str]:
        """The keyways in use, to choose from."""

    def added(self, fit: KeywayFit) -> bool:
        """Bring what is kept up to date; False where that is too much for a moment."""

    def removed(self, fit: KeywayFit) -> None:
        """Forget what rested on the row."""


_fitters: list[Fitter] = []


def add_fitter(fitter: Fitter) -> None:
    _fitters.append(fitter)


def known_keyways() -> list[str]:
    return sorted({keyway for fitter in _fitters for keyway in fitter.keyways()})


def tell_added(fit: KeywayFit) -> bool:
    """Whether all that is kept knows of the row now."""
    told = [fitter.added(fit) for fitter in _fitters]
    return all(told)


def tell_removed(fit: KeywayFit) -> None:
    for fitter in _fitters:
        fitter.removed(fit)
