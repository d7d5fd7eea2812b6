"""What is measured of a page as it is shown: sizes, ways to be pressed, where the focus is."""

from __future__ import annotations

from typing import Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from conftest import ROOT

LEAST_TARGET, LEAST_TEXT = 44, 15  # px, the goals of the bench page
PICTURES = ROOT / "build" / "pages"
LOOKS = {  # width, height, by the system's setting, whether axe measures colours: one width has the others' colours
    "laptop": (1366, 768, "light", True),
    "phone-dark": (390, 844, "dark", True),
    "narrow": (320, 640, "light", False),
}
# Why letters under the least size may stand where they are.
SMALL_BUT = ".excerpt svg"  # the card's words say the same large beside it, and "Pictures" draws it at full size

# The page is wider than the window.
SIDEWAYS = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"

# Letters under a size, as they are on the screen: a drawing that is shrunk shrinks its letters.
SMALL = """least => {
  const found = new Set();
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const element = walk.currentNode.parentElement, text = walk.currentNode.textContent.trim();
    if (!text || !element.checkVisibility() || /^(SCRIPT|STYLE|NOSCRIPT|OPTION|TITLE)$/i.test(element.tagName)) continue;
    if (element.closest(".unseen, SMALL_BUT")) continue;
    const shrunk = element.getScreenCTM ? element.getScreenCTM().a : 1;
    const size = parseFloat(getComputedStyle(element).fontSize) * shrunk;
    if (size < least - 0.01) found.add(`${size.toFixed(1)} px: ${text.slice(0, 40)}`);
  }
  return [...found];
}""".replace("SMALL_BUT", SMALL_BUT)

# What can be pressed and is smaller than a finger. A hidden radio button is pressed on its label; a link within
# a sentence is as high as its line, which WCAG 2.5.8 lets be.
NARROW = """least => {
  const found = [];
  for (const one of document.querySelectorAll("a, button, input:not([type=hidden]), select, textarea, summary")) {
    if (!one.checkVisibility({ visibilityProperty: true })) continue;
    const label = one.closest("label");
    const pressed = /^(radio|checkbox)$/.test(one.type) && label ? label : one;
    const box = pressed.getBoundingClientRect();
    if (one.tagName === "A" && getComputedStyle(one).display === "inline" && one.closest("p, dd")) continue;
    if (box.width < least - 0.5 || box.height < least - 0.5)
      found.push(`${box.width.toFixed(0)} x ${box.height.toFixed(0)} px: ${one.outerHTML.slice(0, 90)}`);
  }
  return found;
}"""

# Where the focus is: whether it, the label of a hidden button or the frame it scrolls in has a ring, and whether the
# middle of that, as far as it is in the window, is uncovered.
FOCUS = """() => {
  const one = document.activeElement;
  const ringed = it => it && getComputedStyle(it).outlineStyle !== "none";
  const hidden = getComputedStyle(one).opacity === "0";
  const shown = hidden ? one.nextElementSibling : !ringed(one) && ringed(one.parentElement) ? one.parentElement : one;
  const style = getComputedStyle(shown), box = shown.getBoundingClientRect();
  const left = Math.max(box.left, 0), right = Math.min(box.right, innerWidth);
  const top = Math.max(box.top, 0), bottom = Math.min(box.bottom, innerHeight);
  const there = right > left && bottom > top && document.elementFromPoint((left + right) / 2, (top + bottom) / 2);
  return {
    what: one.outerHTML.slice(0, 120),
    ring: style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2,
    clear: !!there && (shown.contains(there) || there.contains(shown) && there.closest("label, a, button, summary") !== null),
    at: [box.left, box.top, box.right, box.bottom].map(Math.round),
  };
}"""


def violations(page: Page, contrast: bool = True) -> list[str]:
    """What axe finds wrong, with the places. contrast: measure colours too, the slowest part."""
    rules = {"target-size": {"enabled": True}, "color-contrast": {"enabled": contrast}}
    options = {"resultTypes": ["violations"], "rules": rules}
    found = Axe().run(page, options=options).response["violations"]
    return [f"{one['id']}: {one['help']}: {[node['html'][:100] for node in one['nodes'][:4]]}" for one in found]


def focus(page: Page) -> dict[str, Any]:
    """Where the focus is."""
    where: dict[str, Any] = page.evaluate(FOCUS)
    return where


def look(page: Page, name: str) -> dict[str, list[str]]:
    """What is wrong with a page, by look; its pictures are kept under build/pages."""
    PICTURES.mkdir(parents=True, exist_ok=True)
    wrong: dict[str, list[str]] = {}
    for look_, (width, height, scheme, contrast) in LOOKS.items():
        page.set_viewport_size({"width": width, "height": height})
        page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
        page.evaluate("() => { scrollTo(0, 0); return document.fonts.ready.then(() => 0) }")
        found = violations(page, contrast)
        found += [f"{page.evaluate(SIDEWAYS)} px wider than the window"] if page.evaluate(SIDEWAYS) > 0 else []
        found += page.evaluate(SMALL, LEAST_TEXT)
        found += page.evaluate(NARROW, LEAST_TARGET)
        page.screenshot(path=PICTURES / f"{name}-{look_}.png", full_page=True)
        if found:
            wrong[look_] = found
    return wrong
