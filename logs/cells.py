r"""The cells of a CSV text, each with its line and column, and problems that name them.

Pure. Read by RFC 4180, forgiving in the delimiter and the line ends that spreadsheets write.

>>> [[cell.text for cell in row] for row in cells_of('a;b\n"say ""x;y"" ";  2 \n\n')]
[['a', 'b'], ['say "x;y"', '2']]
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple, NoReturn


class Problem(NamedTuple):
    """What is wrong, and where; line and column count from 1, columns in characters."""

    line: int
    column: int
    reason: str


class FileRefused(ValueError):
    """Every problem found, in the order of the file."""

    def __init__(self, problems: list[Problem]) -> None:
        self.problems = sorted(problems)
        super().__init__("; ".join(f"{p.line}:{p.column}: {p.reason}" for p in self.problems))


class Cell(NamedTuple):
    """The text of a cell without the spaces around it, and where the cell begins."""

    text: str
    line: int
    column: int

    def problem(self, reason: str) -> Problem:
        """Return a problem with this cell."""
        return Problem(self.line, self.column, reason)


def cells_of(text: str) -> Iterator[list[Cell]]:
    """Yield the cells of each row that has any text; FileRefused where quotation marks are wrong.

    The delimiter is the one of comma, semicolon and tab that the first line has most of.
    """
    first_line = text.lstrip("\r\n").partition("\n")[0]
    delimiter = max(",;\t", key=first_line.count)
    reader = _Reader(text, delimiter, re.compile(f"[{delimiter}\r\n]"))
    while True:
        row = [reader.cell()]
        while reader.passes_delimiter():
            row.append(reader.cell())
        if any(cell.text for cell in row):
            yield row
        if not reader.passes_line_end():
            return


@dataclass
class _Reader:
    text: str
    delimiter: str
    cell_end: re.Pattern[str]
    at: int = 0
    line: int = 1
    line_start: int = 0

    def passes_delimiter(self) -> bool:
        if not self.text.startswith(self.delimiter, self.at):
            return False
        self.at += 1
        return True

    def passes_line_end(self) -> bool:
        """Go to the next line, if there is one."""
        if self.at >= len(self.text):
            return False
        self.at += 2 if self.text.startswith("\r\n", self.at) else 1
        self.line, self.line_start = self.line + 1, self.at
        return True

    def cell(self) -> Cell:
        line, column = self.line, self._column()
        start = self.at
        end = self._end()
        content = self.text[start:end]
        if content.lstrip().startswith('"'):
            self.at = self.text.index('"', start) + 1
            content = self._quoted(line, column)
            end = self._end()
            if self.text[self.at : end].strip():
                self._stop(self.line, self._column(), "something follows a closing quotation mark")
        self.at = end
        return Cell(content.strip(), line, column)

    def _quoted(self, line: int, column: int) -> str:
        """What stands in quotation marks, from behind the opening one; two stand for one."""
        begin = self.at
        parts = []
        while True:
            close = self.text.find('"', self.at)
            if close < 0:
                self._stop(line, column, "this cell has no closing quotation mark")
            parts.append(self.text[self.at : close])
            self.at = close + 1
            if not self.text.startswith('"', self.at):
                break
            parts.append('"')
            self.at += 1
        inside = self.text[begin : self.at]
        if newlines := inside.count("\n"):
            self.line += newlines
            self.line_start = begin + inside.rfind("\n") + 1
        return "".join(parts)

    def _end(self) -> int:
        end = self.cell_end.search(self.text, self.at)
        return end.start() if end else len(self.text)

    def _column(self) -> int:
        return self.at - self.line_start + 1

    def _stop(self, line: int, column: int, reason: str) -> NoReturn:
        raise FileRefused([Problem(line, column, reason)])
