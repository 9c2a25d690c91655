from django.utils.translation import gettext as _

from keyctl.lib.errors import Refused


class PrinterMissing(Refused):
    """The system library that sets the text of a PDF is not installed."""

    def __init__(self) -> None:
        super().__init__(
            _(
                "This machine cannot make PDF files yet: the text library Pango is missing. Nothing was "
                "recorded or printed. Ask who runs it to install it: `apt-get install -y libpango-1.0-0 "
                "libpangoft2-1.0-0 libharfbuzz-subset0`."
            )
        )
