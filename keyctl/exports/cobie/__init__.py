"""A building's doors as a COBie workbook, with the identifiers that other programs gave them and ours."""
