"""What is done at the bench: pins and keys read, keys tried, cores repinned, and what was found recorded."""

from keyctl.bench.services.decode import Decoding, decode_pins
from keyctl.bench.services.found import FoundPins, record_found_pins, why_not_to_record
from keyctl.bench.services.key import KeyFound, read_key_by_calipers
from keyctl.bench.services.measure import Measuring, measure_pins
from keyctl.bench.services.repin import RepinJob, repin_core, why_not_to_repin, work_out_repin
from keyctl.bench.services.trying import Trial, try_key_in_core

__all__ = [
    "Decoding",
    "FoundPins",
    "KeyFound",
    "Measuring",
    "RepinJob",
    "Trial",
    "decode_pins",
    "measure_pins",
    "read_key_by_calipers",
    "record_found_pins",
    "repin_core",
    "try_key_in_core",
    "why_not_to_record",
    "why_not_to_repin",
    "work_out_repin",
]
