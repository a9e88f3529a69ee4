"""A calibration's points in their file: bad lines are refused in words."""

from pathlib import Path

import pytest

from rodtrue.calibration.points_file import COLUMNS, read_points
from rodtrue.model.errors import InputError


@pytest.mark.parametrize("number", ["0", "65536", "9" * 5000, "one"])
def test_a_calibration_number_that_no_fixture_can_hold_is_refused_with_its_line(tmp_path: Path, number: str) -> None:
    file = tmp_path / "points.csv"
    row = f"virtual,0123456789abcdef,travel,mm,1,up,5,1000,1,10,{number}"
    file.write_text(",".join((*COLUMNS, "number")) + f"\n{row}\n")
    with pytest.raises(InputError, match=r"line 2, column number: .* is not a number from 1 to 65535"):
        read_points(file)
