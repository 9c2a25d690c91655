"""How a table is read out of a file that anybody may have made; imported by the confined child alone."""
