"""What steers a terminal, a log or the direction of writing is spelt out; everything else stays as it was."""

import logging
import unicodedata

from rodtrue.page.access.plain_log import PlainLog
from rodtrue.plain_text import on_one_line, without_controls

# Unicode Standard Annex 44: control characters, line and paragraph separators.
# Annex 9, table 1: embeddings, overrides and isolates.
STEERING = {"Cc", "Zl", "Zp"}
TURNING = {"LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"}


def test_no_control_or_direction_mark_is_left_and_all_else_is():
    for character in map(chr, range(0x110000)):
        shown = on_one_line(f"a{character}b")
        steers = unicodedata.category(character) in STEERING or unicodedata.bidirectional(character) in TURNING
        if steers and character != "\t":
            assert character not in shown
        else:
            assert shown == f"a{character}b"


def test_several_lines_stay_several_where_they_may():
    assert without_controls("one\n\ttwo\r\n") == "one\n\ttwo\\r\n"
    assert on_one_line("one\ntwo\x1b[31m") == "one\\ntwo\\x1b[31m"


def test_a_log_record_is_one_plain_line_and_its_traceback_keeps_its_lines(caplog):
    log = logging.getLogger("rodtrue.test_plain_log")
    log.addFilter(PlainLog())
    try:
        raise ValueError("bad\x1b[31m")
    except ValueError:
        log.exception("said %s", "a\nFORGED\x1b[2J")
    [record] = caplog.records
    assert record.getMessage() == "said a\\nFORGED\\x1b[2J"
    assert "\x1b" not in caplog.text
    assert "Traceback" in caplog.text
