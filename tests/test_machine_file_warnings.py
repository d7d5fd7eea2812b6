"""What a file allows but a careful reader would ask about."""

from __future__ import annotations

import pytest

from probewright import machine
from probewright.machine.model import Warning

BOARD = """\
machine: Doorbell
parts:
  E1: source 12V  SUP > GND
  U1: regulator 5V  in=SUP out=V5 com=GND
  R1: resistor 4k7  V5 > BASE
  Q1: npn  c=OUT b=BASE e=GND
  R2: resistor 1k  V5 > OUT
"""


def warnings(*lines: str) -> list[Warning]:
    return list(machine.read(BOARD + "".join(f"  {line}\n" for line in lines)).warnings)


def only(*lines: str) -> Warning:
    found = warnings(*lines)
    assert len(found) == 1, found
    return found[0]


def test_a_sound_board_has_none() -> None:
    assert warnings() == []


def test_a_net_named_once() -> None:
    found = only("R3: resistor 1k  V5 > OTU")
    assert found.text == "net OTU is named once, at R3.2" and "2=nc" in found.mend and found.line == 8
    assert warnings("R3: resistor 1k 1=V5 2=nc") == []


def test_a_net_named_once_that_differs_in_case_offers_the_other() -> None:
    found = warnings("R3: resistor 1k  V5 > out")
    assert Warning(8, 3, "net out is named once, at R3.2", "write OUT") in found


def test_a_missing_ground() -> None:
    assert [
        one.text for one in machine.read("machine: X\nparts: {R1: resistor 1k  A > B, R2: resistor 1k  A > B}").warnings
    ] == ["no part is on GND"]


@pytest.mark.parametrize(
    "lines",
    [
        ("X1: block  IN > OUT", "X2: block  IN > OUT"),
        ("C3: capacitor 100n  OUT > IN", "Q3: npn  V5 IN GND"),
        ("U3: opamp  plus=IN minus=OUT out=OUT vplus=V5 vminus=GND", "C3: capacitor 100n  IN > GND"),
    ],
)
def test_an_input_that_no_dc_path_reaches(lines: tuple[str, ...]) -> None:
    found = only(*lines)
    assert "no dc path reaches net IN" in found.text and found.mend


def test_an_input_with_a_dc_path_is_no_matter() -> None:
    assert warnings("U3: opamp  plus=IN minus=OUT out=OUT vplus=V5 vminus=GND", "R3: resistor 1M  IN > GND") == []


@pytest.mark.parametrize(
    ("line", "text", "mend"),
    [
        ("R3: resistor 1m  V5 > OUT", "R3: 1 mΩ looks like a slip; usual is 0.01 Ω to 100 MΩ", "write 1M if"),
        ("R3: resistor 470G  V5 > OUT", "R3: 470 GΩ looks like a slip", "write 470k if"),
        ("C3: capacitor 10M  V5 > OUT", "looks like a slip", "write 10u"),
        ("C3: capacitor 47F electrolytic  V5 > OUT", "47 F looks like a slip", "write 47u if"),
        ("Z3: zener 6800  GND > V5", "looks like a slip", "write 6V8"),
        ("Q3: npn gain 2..5000  V5 BASE GND", "2 to 5000 looks like a slip; usual is 2 to 2000", "check"),
        ("R3: resistor 4k8  V5 > OUT", "R3: 4k8 is in no series of values", "4k7 is the nearest"),
        ("C3: capacitor 100u  V5 > OUT", "C3: 100u is taken as a film capacitor", "write `electrolytic`"),
    ],
)
def test_values_that_look_like_a_slip(line: str, text: str, mend: str) -> None:
    found = only(line)
    assert text in found.text and mend in found.mend
    assert found.line == 8 and found.column == 7


@pytest.mark.parametrize("value", ["1M", "10R", "250k", "50R", "25k", "11k3", "2k21", "5k", "0R05", "680R 1%"])
def test_ordinary_values_are_no_matter(value: str) -> None:
    assert warnings(f"R3: resistor {value}  V5 > OUT") == []


def test_four_ohms_seven_from_a_rail_to_a_base() -> None:
    text = BOARD.replace("resistor 4k7", "resistor 4R7")
    found = machine.read(text).warnings
    assert [(one.line, one.text) for one in found] == [(5, "R1: 4R7 from the rail V5 to inputs looks like a slip")]
    assert found[0].mend == "write 4k7 if that was meant"


def test_four_ohms_seven_between_signals_or_to_a_load_is_no_matter() -> None:
    assert warnings("R3: resistor 4R7  OUT > L1", "M1: load 100R  L1 > GND", "R4: resistor 4R7  V5 > L1") == []


def test_channels_without_a_star() -> None:
    text = BOARD.replace("parts:", "each: [A, B]\nparts:")
    assert [one.text for one in machine.read(text).warnings] == ["there is `each:`, but no part has a * in its name"]


def test_warnings_come_in_the_order_of_the_file() -> None:
    found = warnings("R3: resistor 4k8  V5 > ONCE", "R4: resistor 1m  V5 > OUT")
    assert [one.line for one in found] == [8, 8, 9] and found[0].column <= found[1].column
