"""The pages of keys: what is out and in, each act on a copy, people, cabinets, the register and its rules."""
