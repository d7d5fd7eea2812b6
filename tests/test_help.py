"""Help: every word, every key, every example, and nothing that is not so."""

from __future__ import annotations

import re
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from conftest import HERE, ROOT
from probewright.hypotheses.intake import cautions
from probewright.record import open_book
from probewright.web import help_pages
from probewright.web.app import make_app
from probewright.web.help_pages import ANSWERS, KEYS, LINES, SUMS, glossary, read_glossary, understood

GLOSSARY = (ROOT / "docs" / "glossary.md").read_text(encoding="utf-8")
WEB = ROOT / "src" / "probewright" / "web"


@pytest.fixture
def text(tmp_path: Path):
    with TestClient(make_app(open_book(tmp_path / "bench.db"), "secret"), base_url=HERE) as page:
        answer = page.get("/help")
        assert answer.status_code == 200
        yield answer.text


def named() -> list[str]:
    """The first cells of the glossary's table."""
    return [line.split(" | ")[0].removeprefix("| ") for line in GLOSSARY.splitlines() if line.startswith("| ")][1:]


def test_every_word_of_the_glossary_has_its_place(text):
    shown = re.findall(r'<dfn id="([\w-]+)">([^<]+)</dfn>', text)
    wanted = [word for cell in named() if "†" not in cell for word in cell.split(", ")]
    assert len(wanted) > 60 and [word for _, word in shown] == wanted
    assert ("how-sure", "how sure") in shown and ("stand-in", "stand-in") in shown
    ids = re.findall(r' id="([^"]+)"', text)
    assert len(set(ids)) == len(ids)


def test_words_that_never_appear_on_screen_do_not(text):
    hidden = [cell.removesuffix(" †") for cell in named() if "†" in cell]
    assert "belief" in hidden and "†" not in text
    words = "|".join(re.escape(one) for one in hidden)
    assert re.findall(rf"\b(?:{words})s?\b", re.sub(r'<span class="second">.*?</span>', "", text)) == []


def test_each_row_of_the_glossary_is_three_cells():
    rows = [line for line in GLOSSARY.splitlines() if line.startswith("|")]
    assert {len(line.strip("|").split(" | ")) for line in rows[2:]} == {3}
    assert len(read_glossary(GLOSSARY)) + sum("†" in cell for cell in named()) == len(rows) - 2


def test_the_wheel_carries_the_glossary_as_it_is(tmp_path):
    build = [sys.executable, "-m", "hatchling", "build", "--target", "wheel", "--directory", str(tmp_path)]
    subprocess.run(build, cwd=ROOT, check=True, capture_output=True)
    (wheel,) = tmp_path.glob("*.whl")
    inside = zipfile.ZipFile(wheel).read("probewright/web/glossary.md")
    assert inside == (ROOT / "docs" / "glossary.md").read_bytes()


def test_the_shipped_glossary_is_the_one_that_is_read(tmp_path, monkeypatch):
    (tmp_path / "glossary.md").write_text(
        "| word | meaning | else |\n|---|---|---|\n| lid | what comes off | cover |\n"
    )
    monkeypatch.setattr(help_pages, "HERE", tmp_path)
    assert [row.meaning for row in glossary.__wrapped__()] == ["what comes off"]


def test_each_caution_is_there_and_local_rules_come_first(text):
    assert "Local rules come first" in text and "trained and allowed" in text
    assert {"mains", "charge", "tube", "hot", "fumes", "battery", "laser"} <= set(cautions())
    for id_, words in cautions().items():
        assert f'id="caution-{id_}"' in text and words in text


@pytest.mark.parametrize("line", [*ANSWERS, *LINES, *SUMS])
def test_each_example_is_understood_as_the_page_says(text, line):
    from markupsafe import escape

    assert understood(line)
    assert f"<code>{escape(line)}</code></dt><dd>{escape(understood(line))}</dd>" in text


def test_an_example_that_would_be_asked_back_is_found():
    assert understood("left of what") == ""


def test_each_key_listed_is_bound_and_each_bound_key_is_listed():
    scripts = "\n".join(one.read_text(encoding="utf-8") for one in (WEB / "static").glob("*.js"))
    pages = "\n".join(one.read_text(encoding="utf-8") for one in (WEB / "templates").glob("*.html"))
    compared = set(re.findall(r'event\.key === "(.+?)"', scripts))
    bound = compared | set(re.findall(r"\b(Arrow\w+)\b", scripts)) | set(re.findall(r"event\.(shiftKey)", scripts))
    bound |= {f"accesskey {key}" for key in re.findall(r'accesskey="(\w)"', pages)}
    assert {"/", "accesskey n"} <= bound
    assert {name for key in KEYS for name in key.bound} == bound | {"Enter"}  # a form is sent by Enter as it is


def test_the_documents_list_the_same_keys():
    page = (ROOT / "docs" / "bench-page.md").read_text(encoding="utf-8")
    for one in KEYS:
        assert f"| {one.page} | {one.key} | {one.does} |" in page


def test_the_page_asks_nothing_of_any_other_host(text):
    assert "//" not in "".join(re.findall(r'(?:src|href|action)="([^"]*)"', text))


def test_every_page_leads_to_help(tmp_path):
    with TestClient(make_app(open_book(tmp_path / "bench.db"), "secret"), base_url=HERE) as page:
        for path in ("/jobs", "/jobs/new", "/help", "/jobs/99"):
            assert '<a href="/help"' in page.get(path).text
