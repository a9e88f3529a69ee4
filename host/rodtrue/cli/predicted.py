"""What `rodtrue shifts` tells of: a prediction, and where it comes from."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from rodtrue.model.profile import Profile
    from rodtrue.shifts.predict import Prediction


class Predicted(NamedTuple):
    """A prediction and what it was made for; `run` is `as found` or `as left` of a job."""

    prediction: Prediction
    profile: Profile
    file: str | None = None
    run: str | None = None
    fixture_kind: str | None = None
    reason: str | None = None
    """Why a stored result gives no rod error."""
