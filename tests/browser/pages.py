"""Every page, one line each, and the book that they are looked at with."""

from __future__ import annotations

from dataclasses import dataclass, replace
from importlib.resources import files
from io import BytesIO
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

from checked import checked
from dividers import DIVIDERS
from follower import FOLLOWER, ITS_LOAD_LIFTED
from probewright.jobs import (
    added_circuits,
    adding,
    bench,
    fitting_lists,
    picturing,
    practice,
    putting_together,
    stripping,
    teaching,
)
from probewright.jobs.capturing import Asked, add_capture
from probewright.jobs.cases import Case, Intake
from probewright.jobs.checking_safety import check
from probewright.jobs.standing import stand
from probewright.record import Book, open_book
from timed_machines import SUPPLY

NOW = "2026-11-20T13:00:00+00:00"
MIXER = "fernside-lm-2.yaml"
JOBS = (
    "new",
    "chain",
    "mixer",
    "asked",
    "closed",
    "zoned",
    "scoped",
    "dark",
    "rare",
    "practised",
    "ended",
    "cured",
    "cured_too",
    "again",
)  # the jobs of the book, by number from 1


@dataclass(frozen=True)
class Sheet:
    """A page. path: with a job's number as its name in braces; {photo} is the picture of the job `chain`, {capture} the line of
    the waveform of the job `scoped`."""

    name: str
    path: str
    code: int = 200


SHEETS = (
    Sheet("jobs", "/jobs"),
    Sheet("jobs-found", "/jobs?find=mixer"),
    Sheet("jobs-none", "/jobs?find=teapot"),
    Sheet("kit", "/kit"),
    Sheet("book", "/book"),
    Sheet("learnt", "/learnt"),
    Sheet("take", "/book/take"),
    Sheet("share", "/jobs/{cured}/share"),
    Sheet("share-open", "/jobs/{new}/share"),
    Sheet("like", "/jobs/{again}/like"),
    Sheet("like-none", "/jobs/{dark}/like"),
    Sheet("bench-again", "/jobs/{again}"),
    Sheet("bench-cured", "/jobs/{cured}"),
    Sheet("forget", "/jobs/{mixer}/forget"),
    Sheet("new", "/jobs/new"),
    Sheet("intake", "/jobs/new?kind=mixer"),
    Sheet("intake-mended", "/jobs/{mixer}/intake"),
    Sheet("bench-new", "/jobs/{new}"),
    Sheet("bench-chain", "/jobs/{chain}"),
    Sheet("bench", "/jobs/{mixer}"),
    Sheet("bench-other-choice", "/jobs/{mixer}?choice=1"),
    Sheet("bench-at-a-place", "/jobs/{mixer}?at=DRVL"),
    Sheet("bench-closed", "/jobs/{closed}"),
    Sheet("bench-first-power", "/jobs/{dark}"),
    Sheet("bench-owner", "/jobs/{rare}"),
    Sheet("pictures-none", "/jobs/{new}/pictures"),
    Sheet("pictures-chain", "/jobs/{chain}/pictures"),
    Sheet("pictures", "/jobs/{mixer}/pictures"),
    Sheet("pictures-of-a-suspect", "/jobs/{mixer}/pictures?suspect=A&show=pp"),
    Sheet("zones-none", "/jobs/{new}/zones"),
    Sheet("zones", "/jobs/{zoned}/zones"),
    Sheet("pictures-zoned", "/jobs/{zoned}/pictures"),
    Sheet("bench-zoned", "/jobs/{zoned}"),
    Sheet("photos-none", "/jobs/{new}/photos"),
    Sheet("photos", "/jobs/{chain}/photos"),
    Sheet("photo", "/jobs/{chain}/photos/{photo}"),
    Sheet("photo-marking", "/jobs/{chain}/photos/{photo}?mark=volume"),
    Sheet("machine-none", "/jobs/{new}/machine"),
    Sheet("machine-of-a-stage", "/jobs/{new}/machine?stage=class-b"),
    Sheet("machine-of-a-chain", "/jobs/{chain}/machine"),
    Sheet("machine", "/jobs/{mixer}/machine"),
    Sheet("healthy-none", "/jobs/{new}/healthy"),
    Sheet("healthy-to-learn", "/jobs/{mixer}/healthy"),
    Sheet("healthy", "/jobs/{zoned}/healthy"),
    Sheet("decision-none", "/jobs/{new}/decision"),
    Sheet("decision", "/jobs/{closed}/decision"),
    Sheet("added", "/jobs/{mixer}/added?circuit=regulator&form=adjustable&kind=adjust&target=8V"),
    Sheet("proof-none", "/jobs/{new}/proof"),
    Sheet("proof", "/jobs/{mixer}/proof"),
    Sheet("parts", "/jobs/{asked}/parts"),
    Sheet("safety", "/jobs/{asked}/safety"),
    Sheet("strip", "/jobs/{zoned}/strip?back=no"),
    Sheet("refit", "/jobs/{zoned}/strip?back=yes"),
    Sheet("fit-parts", "/jobs/{zoned}/fit-list"),
    Sheet("fit-list", "/jobs/{zoned}/fit-list/U3"),
    Sheet("papers", "/jobs/{closed}/papers"),
    Sheet("paper-of-an-owner", "/jobs/{closed}/papers/owner"),
    Sheet("paper-with-readings", "/jobs/{mixer}/papers/record"),
    Sheet("paper-with-sums", "/jobs/{closed}/papers/bill"),
    Sheet("bench-waveform", "/jobs/{scoped}"),
    Sheet("waveform", "/jobs/{scoped}/waveform"),
    Sheet("waveform-shown", "/jobs/{scoped}/waveform/{capture}?wait=yes"),
    Sheet("waveform-expected", "/jobs/{scoped}/waveform/expected"),
    Sheet("practice", "/practice"),
    Sheet("why", "/jobs/{dark}/why?part=R1&wait=yes"),
    Sheet("why-new-part", "/jobs/{dark}/why?part=C4&with=220u+16V+0.3A+pitch+5mm&wait=yes"),
    Sheet("why-none", "/jobs/{new}/why"),
    Sheet("bench-practice", "/jobs/{practised}"),
    Sheet("bench-practice-ended", "/jobs/{ended}"),
    Sheet("paths", "/jobs/{ended}/paths?wait=yes"),
    Sheet("help", "/help"),
    Sheet("wrong", "/jobs/99", 400),
)
# Addresses that are no page of their own: pieces of one, files, and those that need a paired network.
PIECES = ("/", "/jobs/{job:int}/refined", "/jobs/{job:int}/echo", "/jobs/{job:int}/clock", "/jobs/{job:int}/photos/{name}/picture",
          "/jobs/{job:int}/photos/{name}/thumbnail", "/jobs/{job:int}/machine.yaml", "/jobs/{job:int}/added.yaml", "/jobs/{job:int}/chain",
          "/jobs/{job:int}/papers/{paper}/pdf",
          "/pair", "/join/{secret}", "/book/copy", "/book/export")  # fmt: skip


def demo_text(name: str = MIXER) -> str:
    """A file of the demo."""
    return (files("probewright.demo") / name).read_text("utf-8")


def demo_lines() -> list[str]:
    """The readings of the mixer as a person types them."""
    said = demo_text("fernside-lm-2.readings").splitlines()
    return [line for line in said if line and not line.startswith("#")]


def enter(book: Book, job: int, line: str) -> Case:
    """One typed line; what was shown is kept as on the page."""
    case = bench.enter_line(book, bench.find_case(book, job), line, NOW)
    return case


def tie(book: Book, job: int, text: str = "") -> Case:
    """The mixer's machine file put to a job."""
    case, text = bench.find_case(book, job), text or demo_text()
    return adding.tie(book, case, text, adding.propose_tie(case, text, MIXER, {}), NOW)


def make_book(path: Path) -> dict[str, str]:
    """A book with a job in every state; what the braces of `SHEETS` stand for."""
    with open_book(path) as book:
        for kind, model, words in (
            ("amplifier", "", "One side has gone quiet."),
            ("cassette deck", "Fernside TD-1", "left is silent, right is fine"),
            ("mixer", "Fernside LM-2", "One side has gone quiet."),
            ("radio", "", "it hums"),
            ("amplifier", "Fernside HA-4", ""),
            ("mixer", "Fernside LM-2", "something ran into it"),
            ("radio", "Bench supply", "it hums"),
            ("amplifier", "Fernside DS-3", "nothing is heard"),
            ("radio", "Tide clock", "its hand stands still"),
        ):
            told = Intake(kind, ticks={"sound left": "bad", "sound right": "good"}, words=words, model=model, key=kind)
            bench.open_job(book, told, NOW)
        adding.tell_chain(book, bench.find_case(book, 2), "head > preamp > volume > driver > phones", NOW)
        enter(book, 2, "volume none")
        case = picturing.add_photo(book, bench.find_case(book, 2), board(), "solder side", NOW)
        photo = case.photos[0].name
        picturing.mark_spot(book, bench.find_case(book, 2), photo, "preamp", 0.4, 0.3, NOW)
        picturing.mark_spot(book, bench.find_case(book, 2), photo, "driver", 0.6, 0.7, NOW)
        tie(book, 3)
        for line in demo_lines()[:5]:
            enter(book, 3, line)
        enter(book, 3, "120 mV at 0.8 A")
        for line in ("fitted a new C12", "swapped U4 with U5: fault followed", "IC2 is dead"):
            enter(book, 4, line)
        check(book, bench.find_case(book, 4), "earth", "3 ohm", NOW)
        mixer, to = bench.find_case(book, 3), {"in": "FADR", "out": "OPAR", "supply": "V8"}
        hot = added_circuits.said_of(mixer, "follower-output", {"emitter": "68R"}, to, ["U3R.out"], {})
        added_circuits.place(book, mixer, hot, NOW)
        enter(book, 5, "Q7 c 11.8")
        bench.close(
            book, checked(book, bench.find_case(book, 5)), "repaired", "R14 replaced, both sides alike again", NOW
        )
        tie(book, 6)
        for line in ("leak around C11L", "resoldered: U2L R11L", "set-up: power on, tone", "DRVL 0.1 Vpp; not showing"):
            enter(book, 6, line)
        for number in (3, 6):
            enter(book, number, "V8 7.98 V on the sister")
        teaching.learn(book, bench.find_case(book, 6), 3, "M1", False, NOW)
        bench.know(book, bench.find_case(book, 7), "file", SUPPLY, SUPPLY, "supply.yaml", NOW)
        enter(book, 7, "quiet: bad")
        enter(book, 7, "set-up: power on, run")
        capture = add_capture(book, bench.find_case(book, 7), ripple(), "ripple.csv", Asked("RAW"), NOW).lines[-1].event
        practised = practice.open_practice(book, DIVIDERS, "dividers.yaml", "k", NOW)
        practice.enter(book, practised, "OUT ?", NOW)
        ended = practice.enter(book, practice.open_practice(book, DIVIDERS, "dividers.yaml", "e", NOW), "MID ?", NOW)
        practice.give_up(book, ended, NOW)
        bench.know(book, bench.find_case(book, 8), "file", "DS-3", demo_text("fernside-ds-3.yaml"), "ds-3.yaml", NOW)
        enter(book, 8, "speech: silent")
        bench.know(book, bench.find_case(book, 9), "file", "clock", FOLLOWER, "clock.yaml", NOW)
        for line in ITS_LOAD_LIFTED:
            enter(book, 9, line)
        cured_and_back(book)
        for number in range(1, len(JOBS) + 1):
            stand(book, bench.find_case(book, number), NOW)
        take_apart(book, bench.find_case(book, 6))
    return {name: str(number) for number, name in enumerate(JOBS, 1)} | {"photo": photo, "capture": str(capture)}


def take_apart(book: Book, case: Case) -> None:
    """Opened, a layer forgotten and a screw left over; a chip out for the third time."""
    for line in (
        "lid: 4 screws M3x6, tray A, earth wire",
        "board out, ribbon J1 pull tab up, caution spring, that thing",
    ):
        case = stripping.take_off(book, case, line, NOW)
    case = putting_together.put_back(book, putting_together.put_back(book, case, "2", NOW), "1.3", NOW, 3)
    case = fitting_lists.heat_fit(book, case, "U3", 2, "by earlier hands", NOW)
    pin = next(one for one in fitting_lists.fit_list(case, "U3").items if one.phase == "pins")
    fitting_lists.tick_fit(book, case, "U3", pin.number, "bad", "OL", NOW)


def cured_and_back(book: Book) -> None:
    """Two machines that were repaired and closed, and the next stay of the first with the same fault."""
    told = Intake("amplifier", model="Fernside HA-4", serial="HA4-0047", words="the left hums and is weak",
                  ticks={"sound left": "bad"}, key="c")  # fmt: skip
    for serial in ("HA4-0047", "HA4-0051"):
        case = bench.open_job(book, replace(told, serial=serial), "2026-10-02T09:00:00+00:00")
        bench.know(book, case, "file", "dividers", DIVIDERS, "dividers.yaml", NOW)
        for line in ("OUT 0 V", "MID 6 V", "replaced R3", "output ok", "OUT 3.81 V"):
            enter(book, case.number, line)
        stand(book, bench.find_case(book, case.number), NOW)
        ended = "2026-10-10T09:00:00+00:00"
        case = checked(book, bench.find_case(book, case.number), ended)
        bench.close(book, case, "repaired", "R3 was open", ended)
    bench.open_job(book, replace(told, words="hums again"), NOW)


def ripple() -> bytes:
    """Six periods of 100 Hz as an oscilloscope writes them: a reservoir that dried out."""
    seconds = np.arange(3000) * 2e-5
    noise = 0.03 * np.random.default_rng(1).normal(size=len(seconds))
    volts = (
        np.maximum(11.0 * np.abs(np.cos(2.0 * np.pi * 50.0 * seconds)), 11.0 - 5.0 * (100.0 * seconds % 1.0)) + noise
    )
    rows = [f"{a:.6g},{b:.5g}" for a, b in zip(seconds, volts, strict=True)]
    return "\n".join(["time,CH1", "s,V", *rows, ""]).encode()


def board() -> bytes:
    """A picture of a board, drawn: tracks and pads on green."""
    picture = Image.new("RGB", (1200, 800), (24, 92, 60))
    pen = ImageDraw.Draw(picture)
    for n in range(12):
        x, y = 90 + 95 * n, 120 + 53 * (n * 5 % 11)
        pen.line([(x, 60), (x, y), (x + 70, y + 60)], fill=(120, 170, 90), width=14)
        pen.ellipse([x - 22, y - 22, x + 22, y + 22], fill=(200, 170, 90))
    out = BytesIO()
    picture.save(out, "PNG")
    return out.getvalue()
