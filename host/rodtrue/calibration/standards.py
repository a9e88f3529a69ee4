"""What a calibration is made with and where: a TOML file of the shop, read with every refusal by field."""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass, field
from pathlib import Path

import msgspec

from rodtrue.bounded import read_whole, toml_of
from rodtrue.calibration.document import Environment, ReferenceStandard, is_day
from rodtrue.model.errors import InputError

TEMPLATE = """\
# The references a fixture is calibrated with, and where. Fill in every line:
# the figures are on the references' certificates. Nothing here is a value yet,
# so that none of ours comes onto a certificate of yours; take off the number
# sign in front of a line as you fill it in. (...) shows what one looks like,
# invented.
# half_width: what it may be off, in mm or kPa.
# half_width_relative: what it may be off in proportion to the value.

[travel]
name = ""                   # ("gauge blocks, steel")
serial = ""
certificate = ""            # its number
traceability = ""           # to which national standard, through whom
# due =                     # ("2027-01-31"): its own next calibration
# half_width =              # (0.005) mm
# half_width_relative =     # (0.0001): 0.01 % of the value

[pressure]
name = ""                   # ("dead-weight tester, oil")
serial = ""
certificate = ""
traceability = ""
# due =                     # ("2027-01-31")
# half_width =              # (0.05) kPa
# half_width_relative =     # (0.0005)

[environment]
place = ""
# air_degc =                # (21.0)
# humidity_percent =        # (45.0)
pressure_medium = ""        # ("oil")
"""


@dataclass(frozen=True)
class Standards:
    """The references of both channels, and where they were used."""

    travel: ReferenceStandard
    pressure: ReferenceStandard
    environment: Environment = field(default_factory=Environment)


VIRTUAL_STANDARDS = Standards(
    ReferenceStandard("virtual blocks (invented)", 0.003, 5e-5, traceability="none: virtual"),
    ReferenceStandard("virtual weights (invented)", 0.03, 5e-4, traceability="none: virtual"),
    Environment("virtual bench", 21.0, None, "none"),
)
"""What the virtual bench's own standards are drawn within."""


def load_standards(path: Path) -> Standards:
    """Return the references in a TOML file.

    Raises: InputError naming file and field.
    """
    advice = "Start from `rodtrue calibrate standards > FILE.toml`."
    try:
        standards = msgspec.convert(toml_of(read_whole(path).decode("utf-8")), Standards)
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"standards {path}: cannot be read ({error})", advice) from error
    except (tomllib.TOMLDecodeError, msgspec.ValidationError) as error:
        raise InputError(f"standards {path}: {error}", advice) from error
    for name, standard in (("travel", standards.travel), ("pressure", standards.pressure)):
        for part in ("half_width", "half_width_relative"):
            value = getattr(standard, part)
            if not (math.isfinite(value) and value >= 0):
                raise InputError(f"standards {path}: field {name}.{part} is {value}; it must be 0 or more", advice)
        if not standard.name.strip():
            raise InputError(f"standards {path}: field {name}.name is empty", advice)
        if standard.due is not None and not is_day(standard.due):
            raise InputError(
                f"standards {path}: field {name}.due is {standard.due!r}; it must be a day such as 2027-01-31", advice
            )
    return standards


def not_traceable(standard: ReferenceStandard) -> str:
    """Return what a certificate cannot say of a standard, as words; empty where it says where it is from."""
    told = (
        ("serial number", standard.serial),
        ("certificate", standard.certificate),
        ("traceability", standard.traceability),
    )
    missing = [name for name, text in told if not text.strip()]
    return " and ".join([", ".join(missing[:-1]), missing[-1]]) if len(missing) > 1 else "".join(missing)
