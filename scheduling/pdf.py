"""The round sheet as a PDF, for the van's visor."""

from django.template.loader import render_to_string

from practice.pdf import FONT_FACES, render
from scheduling.selectors.sheets import Sheet


def round_sheet(sheet: Sheet) -> bytes:
    """One page a day as a rule. Raises PdfUnavailable without the system's libraries."""
    round_ = sheet.round
    title = f"{round_.farrier.name}, {round_.day:%-d %B %Y}"
    words = {
        "sheet": sheet,
        "round": round_,
        "practice": sheet.practice,
        "title": title,
        "paper": "letter" if sheet.practice.country in ("US", "CA") else "A4",
    }
    html = render_to_string("pdf/round_sheet.html", words)
    css = FONT_FACES + render_to_string("pdf/round_sheet.css", words)
    return render(html, css=css, title=title, lang="en")
