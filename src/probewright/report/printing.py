"""A paper as a file: HTML by itself, PDF with the extra `pdf`."""

from __future__ import annotations

import json
from dataclasses import asdict
from importlib.resources import as_file, files

from probewright.errors import complaint
from probewright.report.paper import Paper
from probewright.report.paper_html import html

HTML, PDF = "html", "pdf"
SORTS = {HTML: "text/html; charset=utf-8", PDF: "application/pdf"}


def sort_of(name: str) -> str:
    """ "html" or "pdf", by how a file's name ends. BadInput for any other."""
    ending = name.rpartition(".")[2].casefold()
    if ending not in SORTS:
        raise complaint("a paper is a file of HTML or PDF", "name it FILE.html or FILE.pdf", name)
    return ending


def printed(paper: Paper, sort: str) -> bytes:
    """The file. BadInput for a PDF where what makes it is missing."""
    return html(paper).encode("utf-8") if sort == HTML else pdf(paper)


def can_pdf() -> bool:
    """Whether this install makes PDF."""
    from importlib.util import find_spec

    return find_spec("typst") is not None


def pdf(paper: Paper) -> bytes:
    """The paper as PDF/A, A4; the same bytes for the same paper.

    BadInput without the extra `pdf`, and for a letter that no font here has: boxes in the place of a name are none.

    What stands on it goes in as data, never as text of the layout's own language.
    """
    try:
        import typst
    except ImportError as missing:
        raise complaint(
            "this install makes no PDF",
            "add what is needed: pip install 'probewright[pdf]'; or hand over FILE.html and print that",
        ) from missing
    told = {"paper": json.dumps(asdict(paper), ensure_ascii=False)}
    try:
        with as_file(files("probewright.report") / "paper.typ") as layout:
            made = typst.compile(str(layout), sys_inputs=told, pdf_standards=["a-2b"])
    except typst.TypstError as problem:
        if "could not be displayed" not in str(problem):
            raise
        letter = str(problem).partition('"')[2].partition('"')[0]
        raise complaint(
            f"no font here has the letter {letter!r}",
            "add one that has it to this computer (Noto has most); or hand over FILE.html and print that",
        ) from problem
    assert isinstance(made, bytes)
    return made
