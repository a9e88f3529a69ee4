"""What the servers say of requests: no line break or control character of a stranger's reaches the terminal."""

from __future__ import annotations

import logging

from rodtrue.plain_text import on_one_line, without_controls

_OF_SERVERS = ("nicegui", "uvicorn.error", "asyncio")


class PlainLog(logging.Filter):
    """Makes every record one plain line; a traceback keeps its lines."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Let it through, made plain."""
        record.msg, record.args = on_one_line(record.getMessage()), ()
        if record.exc_info:
            record.exc_text = without_controls(logging.Formatter().formatException(record.exc_info))
        return True


def keep_logs_plain() -> None:
    """Make the servers' logs plain from now on.

    The page's framework is held to errors: its warnings name the whole address of whatever is not found, and hand
    on what a browser says.
    """
    logging.getLogger("nicegui").setLevel(logging.ERROR)
    for name in _OF_SERVERS:
        log = logging.getLogger(name)
        if not any(isinstance(known, PlainLog) for known in log.filters):
            log.addFilter(PlainLog())
