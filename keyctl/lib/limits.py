"""How much anybody may send, whatever it is. What a body of one kind may hold stands with its reader:
`bodies` (JSON), `sheets` and `tables` (lists), `field/jpeg.py` (photos); `arriving` holds requests to these.
"""

# The largest list (`sheets.LARGEST_FILE`) with the form around it. A form without files takes less.
LARGEST_BODY = 6_000_000
LARGEST_FORM = 2_500_000
MOST_FIELDS = 1_000
MOST_FILES = 4
LONGEST_QUERY = 8_000
