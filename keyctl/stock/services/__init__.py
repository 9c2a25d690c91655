"""What is done to loose pins: open a kit, count, receive, put back, throw away, book what a job used."""

from keyctl.stock.services.counting import (
    count_bins,
    count_pins,
    mark_bins,
    move_pins,
    receive_bins,
    receive_pins,
    set_low_mark,
)
from keyctl.stock.services.kits import open_kit, stock_kit
from keyctl.stock.services.using import book_use

__all__ = [
    "book_use",
    "count_bins",
    "count_pins",
    "mark_bins",
    "move_pins",
    "open_kit",
    "receive_bins",
    "receive_pins",
    "set_low_mark",
    "stock_kit",
]
