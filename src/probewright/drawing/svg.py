"""The sheet as SVG text for the middle of an HTML page. No ids: two drawings on one page cannot clash."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from probewright.drawing.pen import Pen, attribute, clean

FINGER = 44.0  # least side of a target, CSS pixels

# Colours by the page's custom properties; behind each comma what print and a file by itself show.
STYLE = """
.pw-diagram{display:block;font-family:var(--face-fig,"DejaVu Sans Condensed","Noto Sans",sans-serif);
font-variant-numeric:tabular-nums;color:var(--ink,#101c1b)}
.pw-diagram text{fill:var(--ink,#101c1b);font-size:15px;stroke:none}
.pw-diagram .pw-name,.pw-diagram .pw-volts,.pw-diagram .pw-odd{font-size:16px;font-weight:700}
.pw-diagram .pw-title{font-size:17px;font-weight:700}
.pw-diagram .pw-rail,.pw-diagram .pw-pin{fill:var(--ink2,#3c4c49)}
.pw-diagram .pw-sign{font-size:18px;font-weight:700}
.pw-diagram .pw-volts{fill:var(--well,#1a6638)}
.pw-diagram .pw-wire,.pw-diagram .pw-line,.pw-diagram .pw-thin,.pw-diagram .pw-plate,.pw-diagram .pw-bar{fill:none;
stroke:var(--ink,#101c1b);stroke-width:2px;stroke-linejoin:round;stroke-linecap:square}
.pw-diagram .pw-thin{stroke-width:1.8px}
.pw-diagram .pw-plate{stroke-width:3.5px;stroke-linecap:butt}
.pw-diagram .pw-bar{stroke-width:2.5px;stroke-linecap:butt}
.pw-diagram .pw-fill{fill:var(--sheet,#fff);stroke:var(--ink,#101c1b);stroke-width:2px;stroke-linejoin:round}
.pw-diagram .pw-solid,.pw-diagram .pw-dot,.pw-diagram .pw-spot{fill:var(--ink,#101c1b);stroke:none}
.pw-diagram .pw-mark{fill:var(--tint,#e6eae8);stroke:var(--ink,#101c1b)}
.pw-diagram .pw-mark~.pw-fill{fill:var(--tint,#e6eae8)}
.pw-diagram .pw-zone,.pw-diagram .pw-added,.pw-diagram .pw-touched{fill:none;stroke:var(--ink,#101c1b);stroke-width:2px}
.pw-diagram .pw-zone{stroke-width:3px;stroke-linecap:round;stroke-dasharray:.1 6}
.pw-diagram .pw-added{stroke-dasharray:9 5}
.pw-diagram .pw-touched{stroke-dasharray:12 4 2 4}
.pw-diagram .pw-tag{fill:var(--sheet,#fff);stroke:var(--ink,#101c1b);stroke-width:2px}
.pw-diagram .pw-letter{font-weight:700}
.pw-diagram .pw-hit{fill:transparent;stroke:none}
.pw-diagram .pw-place .pw-spot{fill:var(--press,#1b3fa6)}
.pw-diagram .pw-place:hover .pw-hit{stroke:var(--press,#1b3fa6);stroke-width:2px}
.pw-diagram .pw-place:focus{outline:none}
.pw-diagram .pw-place:focus-visible .pw-hit{stroke:var(--press,#1b3fa6);stroke-width:3px}
.pw-diagram .pw-red-tip,.pw-diagram .pw-red-lead{fill:none;stroke:var(--red,#b01218);stroke-width:5px}
.pw-diagram .pw-black-tip,.pw-diagram .pw-black-lead{fill:none;stroke:var(--ink,#101c1b);stroke-width:5px}
.pw-diagram .pw-red-handle{fill:var(--red,#b01218)}
.pw-diagram .pw-black-handle{fill:var(--black,#101c1b);stroke:var(--ink,#101c1b);stroke-width:2px}
.pw-diagram text.pw-red-word{fill:var(--redink,#fff);font-weight:700}
.pw-diagram text.pw-black-word{fill:var(--blackink,#fff);font-weight:700}
""".strip()


def write(
    pen: Pen,
    size: tuple[float, float],
    label: str,
    spots: Mapping[str, tuple[float, float]],
    said: Callable[[str], str],
    link: Callable[[str], str] | None,
    dots: Sequence[str],
) -> str:
    """One <svg>. spots: place -> its middle; said: place -> its label; dots: nets with a dot of their own."""
    owners: dict[str, list[str]] = {}
    for piece in pen.pieces:
        owners.setdefault(piece.owner, []).append(piece.svg)
    order = sorted(owners, key=lambda owner: ("net", "part", "title", "probe").index(owner.partition(" ")[0]))
    linked = targets(spots, link)
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" class="pw-diagram" role="{"group" if linked else "img"}" '
        f'aria-label={attribute(label)} width="{size[0]:.0f}" height="{size[1]:.0f}" '
        f'viewBox="0 0 {size[0]:.0f} {size[1]:.0f}">',
        f"<title>{clean(label)}</title>",
        f"<style>{STYLE}</style>",
    ]
    for owner in order:
        sort, _, name = owner.partition(" ")
        data = f" data-{sort}={attribute(name)}" if sort in ("net", "part") else ""
        own = _spot(spots[name]) if sort == "net" and name in dots and name not in linked else ""
        out.append(f'<g class="pw-{sort}"{data}>{"".join(owners[owner])}{own}</g>')
    for place, href in linked.items():
        out.append(_target(place, spots[place], href, said(place), place in dots))
    return "\n".join([*out, "</svg>"])


def targets(spots: Mapping[str, tuple[float, float]], link: Callable[[str], str] | None) -> dict[str, str]:
    """Place -> address, for each that leaves a whole finger's room to those before it; nets come first."""
    found: dict[str, str] = {}
    for place, (x, y) in spots.items() if link else ():
        href = link(place) if link else ""
        if href and all(max(abs(x - spots[one][0]), abs(y - spots[one][1])) >= FINGER for one in found):
            found[place] = href
    return found


def _spot(at: tuple[float, float]) -> str:
    return f'<circle class="pw-spot" cx="{at[0]:g}" cy="{at[1]:g}" r="5"/>'


def _target(place: str, at: tuple[float, float], href: str, said: str, dot: bool) -> str:
    x, y = at[0] - FINGER / 2, at[1] - FINGER / 2
    return (
        f'<a class="pw-place" href={attribute(href)} aria-label={attribute(said)} data-place={attribute(place)}>'
        f'<rect class="pw-hit" x="{x:g}" y="{y:g}" width="{FINGER:g}" height="{FINGER:g}" rx="6"/>'
        f"{_spot(at) if dot else ''}</a>"
    )
