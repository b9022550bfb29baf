"""The code on a sheet that enrols the patient's phone: a QR code drawn as plain squares. Pure."""

from dataclasses import dataclass
from datetime import date
from itertools import groupby

import segno
from reportlab.lib.colors import black, white
from reportlab.platypus import Flowable, Spacer

from plans.sheet_language import SheetWords
from plans.sheet_setting import Setting, Stack, columns, paragraph

QUIET = 4
"""Modules of white that a reader needs round a code (ISO/IEC 18004)."""

SIDE = 120.0
"""How wide the code is printed, in points, its white edge with it; common practice, no source."""


@dataclass(frozen=True)
class PhoneCode:
    """An enrolment link, and the last day on which it works."""

    link: str
    last_day: date


class QrCode(Flowable):  # type: ignore[misc]  # reportlab has no types
    """A link as a QR code, with its white edge."""

    def __init__(self, link: str) -> None:
        super().__init__()
        self.rows = [list(row) for row in segno.make(link, error="m", micro=False).matrix]

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Take a square."""
        self.width = self.height = SIDE
        return SIDE, SIDE

    def draw(self) -> None:
        """Draw each run of dark modules as one rectangle, from the top row down."""
        canv, module = self.canv, SIDE / (len(self.rows) + 2 * QUIET)
        canv.setFillColor(white)
        canv.rect(0, 0, SIDE, SIDE, fill=1, stroke=0)
        canv.setFillColor(black)
        for down, row in enumerate(self.rows):
            y = SIDE - (QUIET + down + 1) * module
            across = 0
            for is_dark, run in groupby(row, key=bool):
                count = len(list(run))
                if is_dark:
                    x = (QUIET + across) * module
                    canv.rect(x, y, count * module, module, fill=1, stroke=0)
                across += count


def phone_block(
    code: PhoneCode, words: SheetWords, setting: Setting, width: float, height: float
) -> Flowable:
    """Return the code with what to do with it beside it."""
    told = [
        paragraph(words.phone_heading, setting.style(1.25, bold=True)),
        Spacer(0, setting.gap),
        paragraph(words.phone_how.format(day=words.day(code.last_day)), setting.style()),
    ]
    room = width - SIDE - setting.size
    return columns([Stack(told, tallest=height), "", QrCode(code.link)], [room, setting.size, SIDE])
