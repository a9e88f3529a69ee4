"""A calibration's points in their file: bad lines are refused in words."""

from pathlib import Path

import pytest

from rodtrue.calibration.document import CalibratedFixture, Point
from rodtrue.calibration.points_file import COLUMNS, Points, append_point, read_points
from rodtrue.model.errors import InputError


@pytest.mark.parametrize("number", ["0", "65536", "9" * 5000, "one"])
def test_a_calibration_number_that_no_fixture_can_hold_is_refused_with_its_line(tmp_path: Path, number: str) -> None:
    file = tmp_path / "points.csv"
    row = f"virtual,0123456789abcdef,travel,mm,1,up,5,1000,1,10,{number}"
    file.write_text(",".join((*COLUMNS, "number")) + f"\n{row}\n")
    with pytest.raises(InputError, match=r"line 2, column number: .* is not a number from 1 to 65535"):
        read_points(file)


@pytest.mark.parametrize(
    ("column", "text", "said"),
    [
        ("fixture_id", "../../../elsewhere", "is not 16 hexadecimal digits"),
        ("cycle", "1e300", "is beyond"),
        ("cycle", "1.5", "is no whole number"),
        ("samples", "-10", "is no whole number"),
        ("reference", "5e200", "is beyond"),
    ],
)
def test_what_no_calibration_can_hold_is_refused_with_its_line_and_column(
    tmp_path: Path, column: str, text: str, said: str
) -> None:
    good = ("virtual", "0123456789abcdef", "travel", "mm", "1", "up", "5", "1000", "1", "10")
    row = dict(zip(COLUMNS, good, strict=True))
    file = tmp_path / "points.csv"
    file.write_text(",".join(COLUMNS) + "\n" + ",".join({**row, column: text}.values()) + "\n")
    with pytest.raises(InputError, match=rf"line 2, column {column}: .*{said}"):
        read_points(file)


def test_a_point_added_to_a_file_whose_last_line_has_no_end_stands_in_a_line_of_its_own(tmp_path: Path) -> None:
    file, points = tmp_path / "points.csv", Points(CalibratedFixture("virtual", "0123456789abcdef"))
    first, second = (Point(1, "up", place, 1000.0 * place, 1.0, 10) for place in (5.0, 15.0))
    append_point(file, points, "travel", first)
    file.write_bytes(file.read_bytes().rstrip())
    append_point(file, points, "travel", second)
    assert read_points(file).travel == [first, second]
