"""All pages about the piers of a plan, as the bytes of files."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gradework.drawings.field_sheet import pdf_of
from gradework.drawings.pier_details import draw_pier_details
from gradework.drawings.pier_elevation import PierSheet
from gradework.drawings.pier_rows import draw_pier_rows
from gradework.drawings.save import figure_bytes

if TYPE_CHECKING:  # the type only
    from gradework.project.work import Plan


def pier_pages(plan: Plan) -> dict[str, bytes]:
    """Give the drawings of the piers: one PDF of all pages, and each page as PNG and SVG.

    Pages are numbered where there are several of a kind. Nothing without piers.
    """
    piers = plan.foundations.piers
    if piers is None or not piers.piers:
        return {}
    sheet = PierSheet(plan.job.name, plan.stations.file, plan.job.show, plan.surface, plan.building, piers)
    rows, details = draw_pier_rows(sheet), draw_pier_details(sheet)
    files = {"piers.pdf": pdf_of([*rows, *details])}
    for name, figures in (("pier-rows", rows), ("pier-details", details)):
        for number, figure in enumerate(figures, start=1):
            page = f"{name}-{number}" if len(figures) > 1 else name
            files |= {f"{page}.png": figure_bytes(figure, "png"), f"{page}.svg": figure_bytes(figure, "svg")}
    return files
