"""The caseload as a table file (RFC 4180) that no spreadsheet takes for formulas.

Pure.

>>> csv_cell("=1+1"), csv_cell("Moss"), csv_cell(None), csv_cell(2.5)
("'=1+1", 'Moss', '', '2.5')
"""

import csv
import io
from collections.abc import Iterable, Sequence

_BEGINS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def csv_cell(value: object) -> str:
    """Return a value as a cell; text that a spreadsheet would run gets an apostrophe before it."""
    text = "" if value is None else str(value)
    return f"'{text}" if text.startswith(_BEGINS_A_FORMULA) else text


def csv_text(header: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Return a table as CSV with a header row and CRLF line ends."""
    written = io.StringIO()
    writer = csv.writer(written)
    writer.writerow(header)
    writer.writerows([csv_cell(value) for value in row] for row in rows)
    return written.getvalue()
