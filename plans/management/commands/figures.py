"""Write a PDF with the figure of every step of the catalogue, to be looked at."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from reportlab.graphics import renderPDF
from reportlab.lib.colors import black
from reportlab.lib.pagesizes import A4
from reportlab.pdfgen.canvas import Canvas

from patients.motions import Side
from plans.catalogue import CatalogueError, Kind, read_folder
from plans.exercise import MovementError, movement_of
from plans.figure import still_drawing
from plans.sheet_setting import PLAIN, load_fonts

COLUMNS, ROWS = 4, 6
MARGIN_PT, CAPTION_PT = 28.0, 6.5


class Command(BaseCommand):
    """Draw every exercise of a folder, each step of its ladder, a page of figures at a time."""

    help = __doc__

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("out", type=Path, help="the PDF to write")
        parser.add_argument(
            "--folder",
            type=Path,
            default=settings.BASE_DIR / "fixtures" / "exercises",
            help="exercise files (default: those that come with the program)",
        )
        parser.add_argument(
            "--side", choices=[Side.LEFT.value, Side.RIGHT.value], default=Side.RIGHT.value
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            movements = [
                (f"{exercise.key}, {step.effort.label}", movement_of(exercise, step))
                for exercise in read_folder(options["folder"])
                if exercise.kind is Kind.POSES
                for step in exercise.steps
            ]
        except (CatalogueError, MovementError) as error:
            raise CommandError(str(error)) from error
        if not movements:
            raise CommandError(f"There is no exercise with poses in {options['folder']}.")
        load_fonts()
        width, height = A4
        page = Canvas(str(options["out"]), pagesize=A4, invariant=1)
        page.setTitle("Figures of the exercise catalogue")
        cell_wide = (width - 2 * MARGIN_PT) / COLUMNS
        cell_high = (height - 2 * MARGIN_PT) / ROWS
        for number, (caption, movement) in enumerate(movements):
            place = number % (COLUMNS * ROWS)
            if number and place == 0:
                page.showPage()
            x = MARGIN_PT + (place % COLUMNS) * cell_wide
            y = height - MARGIN_PT - (place // COLUMNS + 1) * cell_high
            drawn = still_drawing(movement, options["side"], cell_wide - 8)
            room = cell_high - 16
            if drawn.height > room:  # a tall figure is drawn narrower instead
                drawn = still_drawing(
                    movement, options["side"], (cell_wide - 8) * room / drawn.height
                )
            page.setFont(PLAIN, CAPTION_PT)
            page.setFillColor(black)
            page.drawString(x, y + 3, caption)
            renderPDF.draw(drawn, page, x, y + 11)
        page.save()
        self.stdout.write(f"{len(movements)} figures in {options['out']}.")
