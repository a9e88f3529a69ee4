"""Units: SI inside, both systems wherever a person looks.

Factors: NIST SP 811, appendix B (inch and mile exact; psi from the exact inch and pound-force).
"""

MM_PER_INCH = 25.4
KPA_PER_PSI = 4.4482216152605 / (25.4e-3**2) / 1000.0
KMH_PER_MPH = 1.609344


def mm_to_inch(length_mm: float) -> float:
    """Return a length in inches for a length in millimetres."""
    return length_mm / MM_PER_INCH


def kpa_to_psi(pressure_kpa: float) -> float:
    """Return a pressure in psi for a pressure in kPa (gauge stays gauge)."""
    return pressure_kpa / KPA_PER_PSI


def kmh_to_mph(speed_kmh: float) -> float:
    """Return a speed in miles an hour for a speed in kilometres an hour."""
    return speed_kmh / KMH_PER_MPH
