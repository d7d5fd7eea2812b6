"""A paper as one HTML page that needs nothing else: no script, no picture, no address of any other host."""

from __future__ import annotations

from collections.abc import Iterator
from html import escape

from probewright.report.paper import Block, Paper, Table

BRIEF = 16  # letters, chosen: a cell no longer than a time is not broken
STYLE = """
@page { size: A4; margin: 16mm 16mm 14mm; }
* { box-sizing: border-box; }
html { background: #fff; color: #000; font: 16px/1.4 system-ui, "Helvetica Neue", Arial, "DejaVu Sans", sans-serif; }
body { max-width: 48rem; margin: 0 auto; padding: 16px; overflow-wrap: anywhere; }
header p, dl, dd { margin: 0; }
header p { white-space: pre-line; }
h1 { font-size: 1.5em; line-height: 1.2; margin: .6em 0 .3em; }
h1 small { display: block; font-size: .65em; font-weight: normal; }
h2 { font-size: 1.06em; margin: 1em 0 .2em; border-top: 1px solid #000; padding-top: .35em; break-after: avoid; }
p, ul { margin: .2em 0; } ul { padding-inline-start: 1.2em; }
dl div { display: flex; flex-wrap: wrap; gap: 0 .6em; } dt { min-width: 7em; } dd { font-weight: 600; flex: 1 1 12em; }
.weighty { border: 3px solid #000; padding: .1em .8em .6em; margin: .8em 0; break-inside: avoid; }
.weighty h2 { border: 0; margin-top: .2em; } .weighty p { font-weight: 600; }
table { border-collapse: collapse; width: 100%; margin: .3em 0; font-variant-numeric: tabular-nums; }
th, td { text-align: start; vertical-align: top; padding: .15em .6em .15em 0; border-bottom: 1px solid #999; }
thead { display: table-header-group; } tr { break-inside: avoid; }
.brief { white-space: nowrap; overflow-wrap: normal; }
th.figure, td.figure { text-align: end; white-space: nowrap; overflow-wrap: normal; padding: .15em 0 .15em .6em; }
td.across { font-weight: 600; padding-top: .5em; } tr.sum td { font-weight: 600; border-bottom: 0; }
.sign { display: flex; flex-wrap: wrap; gap: 1.2em 2em; margin-top: 2.4em; break-inside: avoid; }
.sign p { flex: 1 1 100%; margin: 0; } .sign span { flex: 1 1 12em; border-top: 1px solid #000; }
@media (max-width: 36rem) {
  .wide { overflow-x: auto; } .wide table { min-width: 30rem; } .wide th, .wide td { overflow-wrap: normal; }
  .wide th:not(.figure, .brief), .wide td:not(.figure, .brief, .across) { min-width: 9em; }
}
@media print {
  html { font-size: 10.5pt; line-height: 1.3; } body { max-width: none; padding: 0; }
  .short { font-size: 9.5pt; line-height: 1.25; } .short h2 { margin-top: .6em; padding-top: .2em; }
  .wide { overflow: visible; } .wide table { min-width: 0; }
}
"""


def html(paper: Paper) -> str:
    """The whole page."""
    return "\n".join(_page(paper)) + "\n"


def _page(paper: Paper) -> Iterator[str]:
    yield "<!DOCTYPE html>"
    yield '<html lang="en">'
    yield '<head>\n<meta charset="utf-8">'
    yield '<meta name="viewport" content="width=device-width, initial-scale=1">'
    yield f"<title>{escape(paper.name)}: {escape(paper.title)}</title>"
    yield f"<style>{STYLE}</style>\n</head>"
    yield '<body class="short">' if paper.short else "<body>"
    yield "<header>"
    yield from (f'<p dir="auto">{escape(one)}</p>' for one in paper.head)
    yield f'<h1 dir="auto"><small>{escape(paper.name)}</small> {escape(paper.title)}</h1>'
    yield "<dl>"
    yield from (f'<div><dt>{escape(a)}</dt><dd dir="auto">{escape(b)}</dd></div>' for a, b in paper.about)
    yield "</dl>\n</header>\n<main>"
    for block in paper.blocks:
        yield from _block(block)
    for one in paper.sign:
        yield f'<div class="sign"><p dir="auto">{escape(one)}</p><span>Date</span><span>Signature</span></div>'
    yield "</main>\n</body>\n</html>"


def _block(block: Block) -> Iterator[str]:
    yield '<section class="weighty">' if block.weighty else "<section>"
    yield f"<h2>{escape(block.heading)}</h2>"
    yield from (f'<p dir="auto">{escape(one)}</p>' for one in block.says)
    if block.points:
        yield "<ul>"
        yield from (f'<li dir="auto">{escape(one)}</li>' for one in block.points)
        yield "</ul>"
    if block.table:
        yield from _table(block.table, block.heading)
    yield "</section>"


def _table(table: Table, name: str) -> Iterator[str]:
    wide = len(table.head) > 3
    if wide:  # on a phone it is moved sideways by itself, also by keys
        yield f'<div class="wide" tabindex="0" role="region" aria-label="{escape(name)}, table">'
    yield "<table>\n<thead><tr>"
    yield from (f'<th scope="col"{_stands(table, n)}>{escape(one)}</th>' for n, one in enumerate(table.head))
    yield "</tr></thead>\n<tbody>"
    for number, row in enumerate(table.rows):
        if len(row) == 1:
            yield f'<tr><td class="across" colspan="{len(table.head)}" dir="auto">{escape(row[0])}</td></tr>'
            continue
        cells = (f'<td{_stands(table, n)} dir="auto">{escape(one)}</td>' for n, one in enumerate(row))
        begin = '<tr class="sum">' if number >= len(table.rows) - table.last else "<tr>"
        yield f"{begin}{''.join(cells)}</tr>"
    yield "</tbody>\n</table>"
    yield from ["</div>"] * wide


def _stands(table: Table, column: int) -> str:
    """How a column stands: figures under each other, short words unbroken."""
    if column in table.figures:
        return ' class="figure"'
    longest = max(len(row[column]) for row in (table.head, *table.rows) if len(row) == len(table.head))
    return ' class="brief"' if longest <= BRIEF else ""
