"""Writes the label sheets as pages that print at true size, and all labels as a table for other programs.

The files are made anew each time, in a folder of their own beside the job.
"""

import csv
import io
from collections.abc import Sequence
from pathlib import Path

from stagefloor.core.problems import Problem
from stagefloor.core.words import Words
from stagefloor.drawings.labels import MOST_PAGES, LabelLayout, label_sheets
from stagefloor.drawings.svg import clean, render
from stagefloor.job.lists import LabelSheet
from stagefloor.results import Results
from stagefloor.steps.labels import Label, csv_text, layout_of, too_long

HEADS = ("For", "Label", "Leads to", "Kind", "Colour", "At")


def labels_csv(labels: Sequence[Label], words: Words | None = None) -> str:
    """All labels as comma-separated values (RFC 4180); no text can become a formula in a spreadsheet."""
    own = (words or Words("")).text
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(map(own, HEADS))
    writer.writerows([csv_text(v) for v in (x.use, x.text, own(x.detail), own(x.kind), own(x.colour), own(x.end))]
                     for x in labels)
    return out.getvalue()


def print_page(layout: LabelLayout, labels: Sequence[Label], used: int, title: str, language: str = "en-GB") -> str:
    """One HTML page whose printed sheets are the label sheets at true size; no script, no link."""
    sheets = label_sheets(layout, tuple(x.mark() for x in labels), used, title)
    wide, high = (f"{v * 1000:g}mm" for v in (layout.page_width, layout.page_height))
    body = "".join(f'<div class="sheet">{render(s, f"sheet{i}", true_size=True)}</div>' for i, s in enumerate(sheets))
    return ("<!DOCTYPE html>\n"
            f'<html lang="{language}"><head><meta charset="utf-8">'
            "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">"
            f"<title>{clean(title)}</title><style>@page {{ size: {wide} {high}; margin: 0; }}\n"
            "body { margin: 0; font: 16px/1.5 system-ui, sans-serif; -webkit-print-color-adjust: exact; "
            "print-color-adjust: exact; }\n"
            f".sheet {{ width: {wide}; height: {high}; overflow: hidden; break-after: page; }}\n"
            ".sheet:last-child { break-after: auto; }\n.sheet svg { display: block; }\n"
            "@media screen { body { background: #e9ecef; } p { padding: 12px 16px; margin: 0; } "
            ".sheet { background: #fff; margin: 12px; } }\n@media print { p { display: none; } }</style></head><body>"
            f"<p>{clean(title)}: {len(labels)} labels on {len(sheets)} sheets of {wide} by {high}. Print at 100 %, without "
            "'fit to page', and lay the first print on a sheet of plain paper over the labels against the light.</p>"
            f"{body}</body></html>\n")


def write(results: Results, folder: Path) -> tuple[list[Path], list[str]]:
    """Write the table of all labels and a page for each sheet into `folder`; (files, sentences on what to mend).

    Raises Problem if nothing can be written there.
    """
    found, said = [], []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        table = folder / "labels.csv"
        table.write_text(labels_csv(results.labels, results.words), encoding="utf-8-sig", newline="")
        found.append(table)
        for number, sheet in enumerate(results.job.all(LabelSheet), 1):
            labels = [x for x in results.labels if x.use == sheet.use]
            layout, fault = layout_of(sheet, results.job.settings.basis)
            if layout is None or not labels:
                said.append(fault or f"Sheet '{sheet.name}': there is no label for {sheet.use} yet.")
                continue
            if small := too_long(layout, labels):
                said.append(f"Sheet '{sheet.name}': {len(small)} labels are printed smaller to fit, such as {small[0]}.")
            if (over := sheet.used % layout.places + len(labels) - layout.places * MOST_PAGES) > 0:
                said.append(f"Sheet '{sheet.name}': {MOST_PAGES:,} sheets are the most; {over:,} labels are not on them.")
            page = folder / f"labels_{number}_{sheet.use}.html"
            text = print_page(layout, labels, sheet.used, sheet.name, results.words.language)
            page.write_text(results.words.html(text), encoding="utf-8", newline="\n")
            found.append(page)
    except OSError as error:
        raise Problem(f"The labels could not be written to '{folder}' ({error.strerror or error}).", str(folder)) from error
    return found, said
