"""Each page as it is sent: well formed by the standard's own rules, every label, reference and name in order.

No browser is needed: the parser tells every error that a browser forgives in silence.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from xml.etree.ElementTree import Element

import pytest
from starlette.routing import Mount, Route
from starlette.testclient import TestClient
from tinyhtml5.parser import HTMLParser

from browser.pages import PIECES, SHEETS
from probewright.record import open_book
from probewright.web.app import make_app

HERE = "http://127.0.0.1:8620"
INLINE = {"a", "abbr", "b", "button", "code", "dfn", "em", "i", "kbd", "label", "s", "small", "span", "strong"}
BLOCKS = {"article", "aside", "details", "div", "dl", "fieldset", "figure", "footer", "form", "h1", "h2", "h3", "h4",
          "header", "hr", "main", "nav", "ol", "p", "pre", "section", "table", "ul"}  # fmt: skip
PRESSED = {"a", "button", "input", "select", "summary", "textarea"}
ONLY = {"ul": {"li"}, "ol": {"li"}, "dl": {"div", "dt", "dd"}, "datalist": {"option"}, "select": {"option", "optgroup"}}
REFERS = ("for", "list", "form", "aria-labelledby", "aria-describedby", "aria-controls", "headers")


@pytest.fixture(scope="module")
def told(own_copy: Path, every_state) -> Iterator[tuple[TestClient, dict[str, str]]]:
    """A client on the book of every state, and what the braces of a path stand for."""
    with TestClient(make_app(open_book(own_copy), "secret"), base_url=HERE) as client:
        yield client, every_state[1]


def read(text: str) -> tuple[Element, list[str]]:
    """The tree of a page, and what the standard calls an error in it."""
    parser = HTMLParser(namespace_html_elements=False)
    tree = parser.parse(text)
    return tree, [f"line {place[0]}: {what} {more}" for place, what, more in parser.errors]


def faults(text: str) -> list[str]:
    """Everything that is wrong with the text of a page."""
    tree, found = read(text)
    within = {child: parent for parent in tree.iter() for child in parent}

    def around(one: Element) -> Iterator[Element]:
        while one in within:
            one = within[one]
            yield one

    def names(one: Element, *wanted: str) -> bool:
        return any(str(up.tag) in wanted for up in around(one))

    every = [one for one in tree.iter() if isinstance(one.tag, str)]
    pointed = {one.get("for") for one in every if one.tag == "label"}
    ids = [one.get("id", "") for one in every if one.get("id") is not None]
    found += [f"two of id {one!r}" for one in set(ids) if ids.count(one) > 1]
    found += [f"an id with a blank: {one!r}" for one in ids if not one or " " in one]
    for one in every:
        tag = str(one.tag)
        what = f"<{tag} {' '.join(f'{k}={v[:30]!r}' for k, v in one.attrib.items())}>"
        for refers in REFERS:
            for wanted in one.get(refers, "").split():
                found += [] if wanted in ids else [f"{what}: {refers}={wanted!r} is nobody's id"]
        if (to := one.get("href", "")).startswith("#") and to[1:] not in ids:
            found.append(f"{what} leads nowhere")
        if one.get("style") is not None or any(name.startswith("on") for name in one.attrib):
            found.append(f"{what}: style or script in an attribute")
        if tag in BLOCKS and any(str(up.tag) in INLINE for up in up_to_block(around(one))):
            found.append(f"{what} within a line")
        if tag in PRESSED and names(one, "a", "button") and not names(one, "svg"):
            found.append(f"{what} within something that is pressed")
        if tag == "label" and (names(one, "label") or not (one.get("for") or fields(one))):
            found.append(f"{what}: a label without a field")
        if tag in ("input", "select", "textarea") and one.get("type") not in ("hidden", "submit", "image"):
            labelled = names(one, "label") or one.get("aria-label") or one.get("id", "-") in pointed
            found += [] if labelled or one.get("hidden") is not None else [f"{what}: a field without a label"]
        if tag in ("img", "input") and (tag == "img" or one.get("type") == "image") and one.get("alt") is None:
            found.append(f"{what}: a picture without words")
        if tag in ONLY and (wrong := {str(child.tag) for child in one if isinstance(child.tag, str)} - ONLY[tag]):
            found.append(f"{what} holds {wrong}")
        if tag == "button" and not words(one) and not one.get("aria-label"):
            found.append(f"{what}: a button without words")
    heads = [int(str(one.tag)[1]) for one in every if re.fullmatch(r"h[1-6]", str(one.tag))]
    found += [] if heads.count(1) == 1 else [f"{heads.count(1)} first headings"]
    found += [f"a heading {b} after a heading {a}" for a, b in zip(heads, heads[1:], strict=False) if b > a + 1]
    found += [] if tree.get("lang") else ["no language is said"]
    return found


def up_to_block(around: Iterator[Element]) -> Iterator[Element]:
    """What stands round an element, until something that may hold anything."""
    for up in around:
        if str(up.tag) in BLOCKS | {"li", "dd", "td", "th", "body", "summary", "figcaption", "legend", "a"}:
            return
        yield up


def fields(one: Element) -> list[Element]:
    return [under for under in one.iter() if str(under.tag) in ("input", "select", "textarea")]


def words(one: Element) -> str:
    return "".join(one.itertext()).strip()


@pytest.mark.parametrize("sheet", SHEETS, ids=[one.name for one in SHEETS])
def test_a_page_is_well_formed(told, sheet):
    client, named = told
    answer = client.get(sheet.path.format(**named))
    assert answer.status_code == sheet.code
    assert faults(answer.text) == []


def test_every_page_stands_in_the_table(told):
    """A page that is not looked at by the tests of this folder: add one line to `SHEETS` in pages.py."""
    client, named = told
    paths = [sheet.path.format(**named).partition("?")[0] for sheet in SHEETS]
    routes = [one for one in client.app.routes if isinstance(one, Route) and "GET" in (one.methods or ())]
    assert len(routes) > 10 and any(isinstance(one, Mount) for one in client.app.routes)
    missed = {one.path for one in routes if not any(one.path_regex.match(path) for path in paths)} - set(PIECES)
    assert missed == set()


# What a form comes back as, when it was refused or is shown first: (path of the form, where it is sent, what is typed)
SENT = {
    "a line that is shown": ("/jobs/{chain}", "/jobs/{chain}/lines", {"line": "Q7 c 11.8"}),
    "a line that asks back": ("/jobs/{mixer}", "/jobs/{mixer}/lines", {"line": "DRVL 1.09 m"}),
    "a line that is no line": ("/jobs/{mixer}", "/jobs/{mixer}/lines", {"line": '<b>"&copy=1'}),
    "a stale tab": ("/jobs/{mixer}", "/jobs/{mixer}/lines", {"line": "V8 8.1", "mark": "0"}),
    "a set-up with a wrong name": ("/jobs/{mixer}", "/jobs/{mixer}/setup", {"way": "unplug", "name": "R99"}),
    "an intake of no kind": ("/jobs/new?kind=mixer", "/jobs", {"kind": "teapot", "words": "<i>&amp;</i>"}),
    "pictures that are none": ("/jobs/{chain}/photos", "/jobs/{chain}/photos", {}),
    "a file that is none": ("/jobs/{new}/machine", "/jobs/{new}/machine", {"text": "<parts>", "file": "a.yaml"}),
    "a chain shown first": ("/jobs/{new}/machine", "/jobs/{new}/chain", {"chain": "a > b", "show": "yes"}),
}


@pytest.mark.parametrize("name", SENT)
def test_a_form_that_comes_back_is_well_formed(told, name):
    client, named = told
    page, to, typed = SENT[name]
    text = client.get(page.format(**named)).text
    hidden = {one: re.findall(rf'name="{one}" value="([^"]*)"', text)[-1:] for one in ("token", "once", "mark")}
    answer = client.post(to.format(**named), data={**{one: said[0] for one, said in hidden.items() if said}, **typed})
    assert answer.headers["content-type"].startswith("text/html"), answer.text
    assert faults(answer.text) == []


WRONG: dict[str, tuple[str, str]] = {
    "an element left open": ("<div><p>x</p>", "expected"),
    "one attribute twice": ('<input aria-label="a" aria-label="b">', "duplicate-attribute"),
    "a form in a form": ("<form><form></form></form>", "unexpected-start-tag"),
    "a bare and": ('<a href="?a=1&copy=2">x</a>', "entity"),
    "an id twice": ('<p id="x"></p><p id="x"></p>', "two of id"),
    "a label for nobody": ('<label for="x">a</label>', "nobody's id"),
    "a label without a field": ("<label>a</label>", "without a field"),
    "a field without a label": ('<input name="x">', "without a label"),
    "a list with words in it": ("<ul><p>x</p></ul>", "holds"),
    "a box within a line": ("<span><div>x</div></span>", "within a line"),
    "a button in a link": ('<a href="/"><button>x</button></a>', "within something that is pressed"),
    "style in an attribute": ('<p style="color: red">x</p>', "in an attribute"),
    "a heading left out": ("<h3>x</h3>", "after a heading"),
    "a link to nobody": ('<a href="#x">x</a>', "leads nowhere"),
}


@pytest.mark.parametrize("name", WRONG)
def test_the_check_itself_sees(name):
    piece, said = WRONG[name]
    page: Callable[[str], str] = (
        '<!DOCTYPE html><html lang="en"><head><title>x</title></head><body><h1>x</h1>{}</body></html>'.format
    )
    assert faults(page("<p>x</p>")) == []
    assert said in " ".join(faults(page(piece)))
