"""What the shop and the lab keep: jobs with their runs, in SQLite or PostgreSQL."""

from rodtrue.records.filters import RunFilter
from rodtrue.records.store import Kept, Records, RunRow, Saved, Value, open_records

__all__ = ["Kept", "Records", "RunFilter", "RunRow", "Saved", "Value", "open_records"]
