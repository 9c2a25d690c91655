"""A bench at the north site with the pins of the small-format A2 system."""

from dataclasses import dataclass
from typing import Any

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.places.models import Site
from keyctl.stock import services
from keyctl.stock.models import PinBin
from tests.cast import Cast

A2 = "small-a2-7"


@dataclass(frozen=True)
class Bench:
    cast: Cast

    @property
    def smith(self) -> User:
        return self.cast.locksmith

    @property
    def site(self) -> Site:
        return self.cast.north

    @property
    def format(self) -> engine.CoreFormat:
        return engine.load_format(A2)

    def open_kit(self, **facts: Any) -> None:
        services.open_kit(actor=self.smith, site=self.site, **({"format": self.format} | facts))

    def stock(self, each: int = 100, **facts: Any) -> None:
        services.stock_kit(actor=self.smith, site=self.site, each=each, **({"format": self.format} | facts))

    def bin(self, role: str = "master", size: int = 4) -> PinBin:
        return PinBin.objects.get(site=self.site, role=role, size=size)

    def use(self, pins: dict[tuple[str, int], int], order: str = "Order 7") -> list[PinBin]:
        return services.book_use(actor=self.smith, site=self.site, format=self.format, pins=pins, order=order)
