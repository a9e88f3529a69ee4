"""Lines and quadratics against certified and published values."""

import numpy as np
import pytest

from calibration.published import columns
from rodtrue.calibration.fit import NoFit, fit_polynomial


def test_norris_has_its_certified_values() -> None:
    # NIST StRD, Norris: certified.
    x, y = columns("nist_norris.csv", "x", "y")
    fit = fit_polynomial(x, y)
    assert fit.coefficients == pytest.approx([-0.262323073774029, 1.00211681802045], rel=1e-12)
    assert fit.standard_errors == pytest.approx([0.232818234301152, 0.000429796848199937], rel=1e-10)
    assert fit.residual_sd == pytest.approx(0.884796396144373, rel=1e-10)
    assert fit.r_squared == pytest.approx(0.999993745883712, abs=1e-14)
    assert fit.degrees_of_freedom == 34


def test_noint1_has_its_certified_values_and_an_intercept_of_nothing() -> None:
    # NIST StRD, NoInt1: certified; R squared about zero.
    x, y = columns("nist_noint1.csv", "x", "y")
    fit = fit_polynomial(x, y, with_intercept=False)
    assert fit.coefficients == pytest.approx([0.0, 2.07438016528926], rel=1e-13)
    assert fit.standard_errors == pytest.approx([0.0, 0.0165289256198347], rel=1e-12)
    assert fit.residual_sd == pytest.approx(3.56753034006338, rel=1e-12)
    assert fit.r_squared == pytest.approx(0.999365492298663, rel=1e-13)
    assert fit.degrees_of_freedom == 10


def test_the_thermometer_of_the_gum_has_its_published_values() -> None:
    # JCGM 100:2008, H.3: -0.1712(29), 0.00218(67), r -0.930, b(30) -0.1494(41).
    t, b = columns("gum_h3_thermometer.csv", "t_k_degC", "b_k_degC")
    fit = fit_polynomial(t, b, x0=20.0)
    assert [round(float(c), 4) for c in fit.coefficients] == [-0.1712, 0.0022]
    assert fit.coefficients[1] == pytest.approx(0.0021826977399, rel=1e-9)
    assert [round(float(u), 5) for u in fit.standard_errors] == [0.00288, 0.00067]
    assert fit.correlation[0, 1] == pytest.approx(-0.930, abs=0.0005)
    assert round(fit.residual_sd, 4) == 0.0035
    assert float(fit.value(30.0)) == pytest.approx(-0.1494, abs=0.00005)
    assert fit.curve_uncertainty(30.0) == pytest.approx(0.0041, abs=0.00005)
    # Computed with statsmodels: one further observation, and the line about the mean reading.
    assert fit.further_uncertainty(30.0) == pytest.approx(0.00541857, rel=1e-5)
    assert fit.student_factor() == pytest.approx(2.262157, rel=1e-6)
    about_mean = fit_polynomial(t, b, x0=float(t.mean()))
    assert about_mean.correlation[0, 1] == pytest.approx(0.0, abs=1e-9)
    assert about_mean.standard_errors[0] == pytest.approx(0.00105456, rel=1e-5)


def test_a_gauge_linearity_study_has_its_published_values() -> None:
    # AIAG, Measurement Systems Analysis, 4th edition: slope -0.1317, intercept 0.7367, t -12.043 and 10.158.
    reference, reading = columns("aiag_linearity.csv", "reference", "reading")
    fit = fit_polynomial(reference, reading - reference)
    t = fit.coefficients / fit.standard_errors
    assert [round(float(c), 4) for c in fit.coefficients] == [0.7367, -0.1317]
    assert [round(float(v), 3) for v in t] == [10.158, -12.043]
    assert fit.r_squared == pytest.approx(0.7143, abs=0.00005)
    assert fit.residual_sd == pytest.approx(0.239539789, rel=1e-8)
    assert fit.degrees_of_freedom == 58


def test_a_quadratic_agrees_with_numpy_in_values_and_covariance() -> None:
    rng = np.random.default_rng(5)
    x = rng.uniform(20.0, 90.0, 25)
    y = 3.0 + 0.7 * x - 0.002 * x**2 + 0.05 * rng.standard_normal(25)
    fit = fit_polynomial(x, y, degree=2)
    theirs, covariance = np.polyfit(x, y, 2, cov=True)
    assert fit.coefficients == pytest.approx(theirs[::-1], rel=1e-8)
    assert fit.covariance == pytest.approx(covariance[::-1, ::-1], rel=1e-6)


def test_powers_about_another_place_describe_the_same_curve() -> None:
    rng = np.random.default_rng(6)
    x, y = rng.uniform(0.0, 10.0, 20), rng.uniform(0.0, 1.0, 20)
    here, far = fit_polynomial(x, y, degree=2), fit_polynomial(x, y, degree=2, x0=1000.0)
    assert far.value(4.0) == pytest.approx(here.value(4.0), rel=1e-6)
    assert far.curve_uncertainty(4.0) == pytest.approx(here.curve_uncertainty(4.0), rel=1e-3)


@pytest.mark.parametrize(
    ("x", "y", "degree", "says"),
    [
        ([1.0, 2.0], [1.0, 2.0], 1, "2 points; 3 are needed"),
        ([1.0, 2.0, 3.0], [1.0, 2.0, 3.0], 2, "3 points; 4 are needed"),
        ([2.0, 2.0, 2.0, 2.0], [1.0, 2.0, 3.0, 4.0], 1, "x is constant"),
        ([1.0, 1.0, 2.0, 2.0, 1.0], [1.0, 2.0, 3.0, 4.0, 5.0], 2, "x takes 2 different values"),
        ([1.0, 2.0, np.nan], [1.0, 2.0, 3.0], 1, "not a finite number"),
        ([1.0, 2.0, 3.0], [1.0, 2.0], 1, "3 values of x and 2 of y"),
    ],
)
def test_what_determines_no_curve_is_refused_with_the_reason(
    x: list[float], y: list[float], degree: int, says: str
) -> None:
    with pytest.raises(NoFit, match=says):
        fit_polynomial(x, y, degree=degree)
