"""The fit of ink against area agrees with certified values and keeps its rate."""

from math import sqrt

import numpy as np
import pytest

from printplan.record.ink_fit import fitted, leverage, predicted, was_measured

# NIST Statistical Reference Datasets, Norris (linear, lower difficulty) and Longley
# (higher difficulty). Data and certified values are typed from memory: that they go
# together to more digits than chance would give is the check of the memory too.
NORRIS = """0.1 0.2 338.8 337.4 118.1 118.2 888.0 884.6 9.2 10.1 228.1 226.5 668.5 666.3
998.5 996.3 449.1 448.6 778.9 777.0 559.2 558.2 0.3 0.4 0.1 0.6 778.1 775.5 668.8 666.9
339.3 338.0 448.9 447.5 10.8 11.6 557.7 556.0 228.3 228.1 998.0 995.8 888.8 887.6
119.6 120.2 0.3 0.3 0.6 0.3 557.6 556.8 339.3 339.1 888.0 887.2 998.5 999.0 778.9 779.0
10.2 11.1 117.6 118.3 228.9 229.2 668.4 669.1 449.2 448.9 0.2 0.5"""
NORRIS_UNITS = (-0.262323073774029, 1.00211681802045)
NORRIS_SD = 0.884796396144373
NORRIS_ERRORS = (0.232818234301152, 0.429796848199937e-3)

LONGLEY = """60323 83.0 234289 2356 1590 107608 1947
61122 88.5 259426 2325 1456 108632 1948
60171 88.2 258054 3682 1616 109773 1949
61187 89.5 284599 3351 1650 110929 1950
63221 96.2 328975 2099 3099 112075 1951
63639 98.1 346999 1932 3594 113270 1952
64989 99.0 365385 1870 3547 115094 1953
63761 100.0 363112 3578 3350 116219 1954
66019 101.2 397469 2904 3048 117388 1955
67857 104.6 419180 2822 2857 118734 1956
68169 108.4 442769 2936 2798 120445 1957
66513 110.8 444546 4681 2637 121950 1958
68655 112.6 482704 3813 2552 123366 1959
69564 114.2 502601 3931 2514 125368 1960
69331 115.7 518173 4806 2572 127852 1961
70551 116.9 554894 4007 2827 130081 1962"""
LONGLEY_UNITS = (
    -3482258.63459582,
    15.0618722713733,
    -0.358191792925910e-1,
    -2.02022980381683,
    -1.03322686717359,
    -0.511041056535807e-1,
    1829.15146461355,
)
LONGLEY_SD = 304.854073561965


def with_signs(columns, units):
    """A column of which less gives more is turned: no amount of ink is below 0."""
    return columns * np.sign(units), np.abs(units)


def norris():
    table = np.array(NORRIS.split(), float).reshape(-1, 2)
    columns = np.stack([np.ones(len(table)), table[:, 1]], axis=1)
    return *with_signs(columns, NORRIS_UNITS), table[:, 0]


def test_fit_agrees_with_the_certified_values_of_norris():
    columns, units, response = norris()
    fit = fitted(columns, response)
    assert len(response) == 36
    assert fit.spare == 34
    np.testing.assert_allclose(fit.per_unit, units, rtol=1e-11)
    assert fit.residual_sd == pytest.approx(NORRIS_SD, rel=1e-11)
    errors = fit.residual_sd * np.sqrt(np.diag(fit.inverse))
    np.testing.assert_allclose(errors, NORRIS_ERRORS, rtol=1e-10)


def test_fit_agrees_with_the_certified_values_of_longley():
    """Columns so alike that a solver of the normal equations loses all digits."""
    table = np.array(LONGLEY.split(), float).reshape(16, 7)
    columns = np.concatenate([np.ones((16, 1)), table[:, 1:]], axis=1)
    signed, units = with_signs(columns, LONGLEY_UNITS)
    fit = fitted(signed, table[:, 0])
    assert fit.spare == 9
    np.testing.assert_allclose(fit.per_unit, units, rtol=1e-7)
    assert fit.residual_sd == pytest.approx(LONGLEY_SD, rel=1e-7)


def test_prediction_interval_is_the_closed_form_of_a_straight_line():
    """Draper & Smith, ŷ ± t s √(1 + 1/n + (x − x̄)²/Sxx); t(0.975, 34) = 2.032."""
    columns, units, response = norris()
    fit = fitted(columns, response)
    x = columns[:, 1]
    new = 400.0
    value, half = predicted(fit, [columns[0, 0], new], confidence=0.95)
    assert value == pytest.approx(-units[0] + units[1] * new, rel=1e-9)
    spread = (new - x.mean()) ** 2 / ((x - x.mean()) ** 2).sum()
    expected = 2.0322 * NORRIS_SD * sqrt(1 + 1 / 36 + spread)
    assert half == pytest.approx(expected, rel=1e-4)


def test_no_ink_is_given_back():
    """A fit without the bound would find the second ink to run backwards."""
    columns = np.array([[1.0, 0.2], [2.0, 0.9], [3.0, 0.1], [4.0, 0.8], [5.0, 0.5]])
    response = columns @ [3.0, -2.0]
    assert np.linalg.lstsq(columns, response, rcond=None)[0][1] < 0
    fit = fitted(columns, response)
    assert fit.per_unit[1] == 0
    # With one ink left, the closed form is Σxy / Σx².
    alone = (columns[:, 0] @ response) / (columns[:, 0] @ columns[:, 0])
    assert fit.per_unit[0] == pytest.approx(alone)


# Millilitres of the simulated printer for a square metre of solid colour.
TRUE_ML_M2 = np.array([9.0, 8.0, 7.0, 14.0])


def covered(rng, prints):
    """Coverages as photographs have them: much grey, some colour, all of a kind."""
    grey = rng.uniform(0.2, 0.7, (prints, 1))
    return np.concatenate([grey * rng.uniform(0.05, 0.5, (prints, 3)), grey], axis=1)


@pytest.mark.parametrize("inks", [TRUE_ML_M2, np.array([9.0, 0.0, 7.0, 14.0])])
def test_simulated_printer_lies_in_the_interval_at_its_rate(inks):
    """
    Nine of ten new prints, ±3 standard errors of 2000 trials (binomial: 0.0067).

    An ink that is not used at all is held at the bound: there the interval may be too
    wide, and must not be too narrow.
    """
    rng = np.random.default_rng(11)
    trials, inside = 2000, 0
    for _ in range(trials):
        seen, new = covered(rng, 12), covered(rng, 1)[0]
        used = seen @ inks + rng.normal(0, 0.4, 12)
        value, half = predicted(fitted(seen, used), new)
        inside += abs(new @ inks + rng.normal(0, 0.4) - value) <= half
    rate = inside / trials
    assert rate >= 0.90 - 0.02
    if inks.all():
        assert rate <= 0.95


def test_many_prints_recover_each_ink():
    rng = np.random.default_rng(5)
    seen = covered(rng, 400)
    fit = fitted(seen, seen @ TRUE_ML_M2 + rng.normal(0, 0.2, 400))
    errors = fit.residual_sd * np.sqrt(np.diag(fit.inverse))
    assert (np.abs(fit.per_unit - TRUE_ML_M2) <= 4 * errors).all()
    assert errors.max() < 0.5


def test_what_was_never_printed_is_known_to_be_unknown():
    """Black-and-white prints say nothing of a colour's ink."""
    grey = np.array([[0.0, 0.0, 0.0, 0.1 * it] for it in range(1, 9)])
    fit = fitted(grey, grey @ TRUE_ML_M2)
    assert fit.spare == 7
    assert was_measured(fit, [0, 0, 0, 0.5], most_share=0.05)
    assert not was_measured(fit, [0.2, 0, 0, 0.5], most_share=0.05)
    assert leverage(fit, [0, 0, 0, 0.8]) == pytest.approx(fit.widest)
    assert leverage(fit, [0, 0, 0, 1.6]) > fit.widest


def test_too_few_prints_have_no_interval():
    fit = fitted([[1.0, 2.0], [2.0, 1.0]], [3.0, 3.0])
    assert fit.spare == 0
    assert predicted(fit, [1.0, 1.0])[1] == float("inf")
