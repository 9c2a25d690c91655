"""What can be taken as a table, by the name in its address."""

from keyctl.exports.tables.columns import Table
from keyctl.exports.tables.estate import CORES, DOORS, LOCKS
from keyctl.exports.tables.keys import COPIES, HELD, REGISTER, SYMBOLS
from keyctl.exports.tables.work import ORDERS

TABLES: dict[str, Table] = {
    table.name: table for table in (DOORS, LOCKS, CORES, SYMBOLS, COPIES, HELD, REGISTER, ORDERS)
}

__all__ = ["TABLES", "Table"]
