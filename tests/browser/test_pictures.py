"""The pictures of docs/bench-page.md: made anew by `make pictures`, and small."""

from __future__ import annotations

import os
from io import BytesIO

import pytest
from PIL import Image

from browser.conftest import LAPTOP, PHONE
from browser.looking import PICTURES
from conftest import ROOT

DOCS = ROOT / "docs" / "pictures"
SMALL = 64_000  # bytes, chosen: a clone stays light
SHOTS = {
    "bench": ("/jobs/{mixer}", LAPTOP, "light"),
    "bench-phone": ("/jobs/{mixer}", {**PHONE, "device_scale_factor": 1}, "dark"),
    "suspect": ("/jobs/{mixer}/pictures?suspect=A&show=pp", LAPTOP, "light"),
    "photo": ("/jobs/{chain}/photos/{photo}", LAPTOP, "light"),
}


@pytest.mark.parametrize("name", SHOTS)
def test_a_picture_of_the_page_is_made_and_small(window, shown, name):
    """PROBEWRIGHT_PICTURES=1 puts it where the document shows it, else it is left under build/pages."""
    served, named = shown
    path, like, scheme = SHOTS[name]
    page = window(served, like, color_scheme=scheme)
    page.goto(path.format(**named), wait_until="networkidle")
    folder = DOCS if os.environ.get("PROBEWRIGHT_PICTURES") == "1" else PICTURES
    folder.mkdir(parents=True, exist_ok=True)
    Image.open(BytesIO(page.screenshot())).convert("RGB").save(folder / f"{name}.webp", quality=72, method=6)
    assert (folder / f"{name}.webp").stat().st_size < SMALL


def test_the_document_shows_every_picture_and_no_other():
    text = (ROOT / "docs" / "bench-page.md").read_text("utf-8")
    assert {one.name for one in DOCS.iterdir()} == {f"{name}.webp" for name in SHOTS}
    for one in DOCS.iterdir():
        assert f"](pictures/{one.name})" in text and one.stat().st_size < SMALL
