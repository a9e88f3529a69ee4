"""What the host sends is within its field's range, ends included, and one beyond is refused by the field's name."""

import pytest

from rodtrue_protocol.check import check_fields
from rodtrue_protocol.table import SCALAR_MOST, TABLE, Field

WHOLE = [(m.name, f) for m in TABLE.messages.values() for f in m.fields if f.type in SCALAR_MOST]


@pytest.mark.parametrize(("owner", "field"), WHOLE, ids=[f"{owner}.{field.name}" for owner, field in WHOLE])
def test_a_whole_number_is_taken_from_end_to_end_of_its_range_and_not_beyond(owner, field):
    low, high = field.range or (0, 2 ** (8 * {"u8": 1, "u16": 2, "u32": 4}[field.type]) - 1)
    meant = {entry.value for entry in field.reserved}
    for value in {low, high} | meant:
        check_fields(owner, (field,), {field.name: value})
    for value in {low - 1, high + 1} - meant:
        said = f"^{owner}.{field.name}: {value} is not an integer from {low} to {high}"
        with pytest.raises(ValueError, match=said):
            check_fields(owner, (field,), {field.name: value})
    for value in (True, 1.5, "1", None):
        with pytest.raises(ValueError, match="is not an integer"):
            check_fields(owner, (field,), {field.name: value})


def test_bytes_keep_their_length_or_its_range_in_whole_repeats():
    fixed, free = Field("digest", "bytes", "", length=4), Field("data", "bytes", "", count_type="u8", least=2, most=5)
    for field, good, bad, range_ in ((fixed, (4,), (3, 5), "4$"), (free, (2, 5), (1, 6), "2 to 5 bytes$")):
        for length in good:
            check_fields("x", (field,), {field.name: bytes(length)})
        for length in bad:
            with pytest.raises(ValueError, match=f"{length} bytes; expected {range_}"):
                check_fields("x", (field,), {field.name: bytes(length)})
        with pytest.raises(ValueError, match="is not bytes"):
            check_fields("x", (field,), {field.name: "text"})


def test_text_fits_by_its_bytes_and_holds_no_zero():
    field = Field("name", "text", "", length=4)
    for text in ("", "abcd", "\u00e4\u00e4"):
        check_fields("x", (field,), {"name": text})
    for text in ("abcde", "\u00e4\u00e4a", "a\0", b"ab"):
        with pytest.raises(ValueError, match="is not text of at most 4 bytes"):
            check_fields("x", (field,), {"name": text})
