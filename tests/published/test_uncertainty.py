"""The budget engine and the decision rules against published examples.

Where the reference says "read", the figures themselves were read in the public text named; "from memory" says they
were not. JCGM 100:2008 is the Guide to the expression of uncertainty in measurement, JCGM 101:2008 its Supplement 1.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest

from reconcile.meter.budget import Budget, Input, correlation, coverage_factor, propagate, repeated
from reconcile.meter.montecarlo import agrees, simulate


def fitted_line(
    x: Sequence[float], y: Sequence[float], origin: float = 0.0, unit: str = ""
) -> tuple[tuple[Input, Input], dict[tuple[str, str], float], float]:
    """Fit y = intercept + slope (x - origin) by least squares (JCGM 100, H.3).

    Returns
    -------
    inputs : (Input, Input)
        ``intercept`` and ``slope``, with n - 2 degrees of freedom.
    correlations : dict
        Of the two.
    scatter : float
        Standard deviation of the residuals, unit of ``y``.
    """
    design = np.column_stack([np.ones(len(x)), np.asarray(x, dtype=float) - origin])
    wanted = np.asarray(y, dtype=float)
    inverse = np.linalg.inv(design.T @ design)
    found = inverse @ design.T @ wanted
    freedom = len(wanted) - 2
    rest = wanted - design @ found
    scatter = math.sqrt(float(rest @ rest) / freedom)
    doubts = scatter * np.sqrt(np.diag(inverse))
    why = f"line through {len(wanted)} points"
    intercept, slope = (
        Input(name, float(value), float(u), "normal", 1.0, freedom, unit, why)
        for name, value, u in zip(("intercept", "slope"), found, doubts, strict=True)
    )
    shared = float(inverse[0, 1] / math.sqrt(inverse[0, 0] * inverse[1, 1]))
    return (intercept, slope), {("intercept", "slope"): shared}, scatter


def length(q):
    return (
        q["ls"]
        + q["d0"]
        + q["d1"]
        + q["d2"]
        - q["ls"] * (q["delta alpha"] * (q["theta bar"] + q["Delta"]) + q["alpha s"] * q["delta theta"])
    )


@pytest.fixture
def end_gauge():
    """JCGM 100, H.1, end gauge: inputs read in the repository MSLNZ/GTC, examples/GUM_H1.py and docs/API/GUM_H1.rst."""
    return (
        Input("ls", 50_000_623.0, 25.0, degrees_of_freedom=18, unit="nm"),
        Input("d0", 215.0, 5.8, degrees_of_freedom=24, unit="nm"),
        Input("d1", 0.0, 3.9, degrees_of_freedom=5, unit="nm"),
        Input("d2", 0.0, 6.7, degrees_of_freedom=8, unit="nm"),
        Input("alpha s", 11.5e-6, 2e-6, "rectangular", unit="1/K"),
        Input("delta alpha", 0.0, 1e-6, "rectangular", degrees_of_freedom=50, unit="1/K"),
        Input("delta theta", 0.0, 0.05, "rectangular", degrees_of_freedom=2, unit="K"),
        Input("theta bar", -0.1, 0.2, unit="K"),
        Input("Delta", 0.0, 0.5, "arcsine", unit="K"),
    )


def test_h1_value_and_components_as_printed(end_gauge):
    budget = propagate(length, end_gauge, coverage=0.99)
    assert round(budget.value) == 50_000_838
    assert round(budget.standard_uncertainty) == 32
    assert budget.standard_uncertainty == pytest.approx(31.664, rel=0, abs=5e-4)  # worked out from the inputs
    parts = {c.name: abs(c.contribution) for c in budget.components}
    printed = {"ls": 25.0, "delta theta": 16.599, "d2": 6.7, "d0": 5.8, "d1": 3.9, "delta alpha": 2.88679}
    for name, value in printed.items():
        assert parts[name] == pytest.approx(value, rel=0, abs=6e-4), name
    for name in ("alpha s", "theta bar", "Delta"):
        assert parts[name] == 0.0


def test_h1_degrees_of_freedom_and_expanded_uncertainty(end_gauge):
    """16 degrees of freedom, t = 2.92 and U99 = 93 nm are from memory, and agree with scipy's t."""
    budget = propagate(length, end_gauge, coverage=0.99)
    assert budget.degrees_of_freedom == pytest.approx(16.75, rel=0, abs=0.005)
    assert round(budget.coverage_factor, 2) == 2.92
    # The Guide multiplies the rounded 32 nm; unrounded it is 92.5 nm.
    assert round(budget.coverage_factor * 32.0) == 93
    assert budget.expanded_uncertainty == pytest.approx(92.5, rel=0, abs=0.05)


def test_h1_second_order_terms(end_gauge):
    """34 nm read in the same repository; the extra terms 11.8 and 1.7 nm worked out."""
    budget = propagate(length, end_gauge, second_order=True)
    assert round(budget.standard_uncertainty) == 34
    assert budget.second_order == pytest.approx(math.hypot(11.7, 1.67), rel=0, abs=0.05)


@pytest.fixture
def impedance_readings():
    """JCGM 100, H.2, table H.2: five simultaneous readings (data read in r-quantities/errors, data/GUM.H.2.rda)."""
    return {
        "V": [5.007, 4.994, 5.005, 4.990, 4.999],
        "I": [19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3],
        "phi": [1.0456, 1.0438, 1.0468, 1.0428, 1.0433],
    }


OUTPUTS = {
    "R": lambda q: q["V"] / q["I"] * np.cos(q["phi"]),
    "X": lambda q: q["V"] / q["I"] * np.sin(q["phi"]),
    "Z": lambda q: q["V"] / q["I"],
}


def impedance(readings) -> dict[str, Budget]:
    inputs, together = repeated(readings)
    return {name: propagate(model, inputs, correlations=together) for name, model in OUTPUTS.items()}


def test_h2_means_doubts_and_correlations_as_printed(impedance_readings):
    """Read in the repository MSLNZ/GTC, GTC/type_a.py and test/test_type_a.py."""
    inputs, together = repeated(impedance_readings)
    means = {q.name: q.value for q in inputs}
    doubts = {q.name: q.standard_uncertainty for q in inputs}
    assert (round(means["V"], 4), round(1e3 * means["I"], 4), round(means["phi"], 5)) == (4.9990, 19.6610, 1.04446)
    assert (round(doubts["V"], 4), round(1e3 * doubts["I"], 4), round(doubts["phi"], 5)) == (0.0032, 0.0095, 0.00075)
    printed = {("I", "V"): -0.36, ("phi", "V"): 0.86, ("phi", "I"): -0.65}
    assert {pair: round(r, 2) for pair, r in together.items()} == printed


def test_h2_results_as_printed(impedance_readings):
    found = impedance(impedance_readings)
    rounded = {name: (round(b.value, 3), round(b.standard_uncertainty, 3)) for name, b in found.items()}
    assert rounded["R"] == (127.732, 0.071)
    assert rounded["Z"] == (254.260, 0.236)
    # The Guide prints u(X) = 0.295 from its rounded table; unrounded it is 0.29558.
    assert rounded["X"][0] == 219.847
    assert found["X"].standard_uncertainty == pytest.approx(0.2955817, rel=0, abs=5e-8)
    assert all(b.degrees_of_freedom == pytest.approx(4.0, rel=1e-9, abs=0) for b in found.values())


def test_h2_correlations_between_results_as_printed(impedance_readings):
    found = impedance(impedance_readings)
    assert round(correlation(found["R"], found["X"]), 3) == -0.588
    assert round(correlation(found["R"], found["Z"]), 3) == -0.485
    assert round(correlation(found["X"], found["Z"]), 3) == 0.993


def test_h2_second_approach_agrees(impedance_readings):
    """Each set evaluated by itself, then the mean: worked out from the printed table, not printed to 5 digits."""
    wanted = {"R": (127.73163, 0.07127), "X": (219.84689, 0.29549), "Z": (254.26005, 0.23625)}
    for name, model in OUTPUTS.items():
        sets = [
            model(dict(zip(impedance_readings, one, strict=True)))
            for one in zip(*impedance_readings.values(), strict=True)
        ]
        (mean,), _ = repeated({name: sets})
        assert (round(mean.value, 5), round(mean.standard_uncertainty, 5)) == wanted[name]


def test_h2_correlation_matters(impedance_readings):
    inputs, _ = repeated(impedance_readings)
    apart = propagate(OUTPUTS["Z"], inputs)
    assert apart.standard_uncertainty < 0.9 * impedance(impedance_readings)["Z"].standard_uncertainty


@pytest.fixture
def thermometer_line():
    """JCGM 100, H.3: eleven points of a thermometer's calibration (read in MSLNZ/GTC, examples/GUM_H3.py)."""
    t = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
    b = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]
    return t, b


def test_h3_fit_and_prediction_as_printed(thermometer_line):
    """Read in docs/API/GUM_H3.rst of the same repository."""
    (intercept, slope), together, scatter = fitted_line(*thermometer_line, origin=20.0)
    assert (round(intercept.value, 4), round(intercept.standard_uncertainty, 4)) == (-0.1712, 0.0029)
    assert (round(slope.value, 5), round(slope.standard_uncertainty, 5)) == (0.00218, 0.00067)
    assert round(together["intercept", "slope"], 3) == -0.930
    assert round(scatter, 4) == 0.0035
    at_30 = propagate(lambda q: q["intercept"] + 10.0 * q["slope"], (intercept, slope), correlations=together)
    assert (round(at_30.value, 4), round(at_30.standard_uncertainty, 4)) == (-0.1494, 0.0041)
    assert at_30.degrees_of_freedom == pytest.approx(9.0, rel=1e-9, abs=0)


@pytest.mark.parametrize(
    ("freedom", "printed"),
    [(1, 12.71), (2, 4.30), (3, 3.18), (4, 2.78), (5, 2.57), (8, 2.31), (10, 2.23), (16, 2.12), (20, 2.09), (50, 2.01)],
)
def test_t_at_95_percent(freedom, printed):
    """JCGM 100, table G.2, from memory; scipy gives the same."""
    assert round(coverage_factor(0.95, freedom), 2) == printed


def summed(widths: list[float], distribution: str):
    limits = [w * (math.sqrt(3.0) if distribution == "rectangular" else 1.0) for w in widths]
    inputs = tuple(Input(f"x{i}", 0.0, limit, distribution) for i, limit in enumerate(limits))  # type: ignore[arg-type]
    return (lambda q: sum(q.values())), inputs


def test_supplement_1_four_normals():
    """JCGM 101, 9.2.2 (from memory): u = 2.00, 95 % interval -3.92 to 3.92."""
    model, inputs = summed([1.0] * 4, "normal")
    budget, drawn = propagate(model, inputs), simulate(model, inputs, trials=200_000)
    assert round(budget.expanded_uncertainty, 2) == 3.92
    assert drawn.standard_uncertainty == pytest.approx(2.0, rel=0, abs=0.01)
    assert drawn.high == pytest.approx(3.92, rel=0, abs=0.03)
    assert agrees(budget, drawn)


def test_supplement_1_four_rectangulars():
    """JCGM 101, 9.2.3 (from memory); the closed form 2 sqrt(3) (2 - (3/5)^(1/4)) = 3.8794 checks it."""
    model, inputs = summed([1.0] * 4, "rectangular")
    drawn = simulate(model, inputs, trials=400_000)
    exact = 2.0 * math.sqrt(3.0) * (2.0 - 0.6**0.25)
    assert exact == pytest.approx(3.8794, rel=0, abs=5e-5)
    assert drawn.high == pytest.approx(exact, rel=0, abs=0.015)
    assert -drawn.low == pytest.approx(drawn.high, rel=0, abs=1e-9)
    assert round(propagate(model, inputs).expanded_uncertainty, 2) == 3.92


def test_supplement_1_one_rectangular_outweighs_the_rest():
    """JCGM 101, 9.2.4 (from memory): u = 10.1, draws about 17.0, propagation alone 19.9; here the two do not agree."""
    model, inputs = summed([1.0, 1.0, 1.0, 10.0], "rectangular")
    budget, drawn = propagate(model, inputs), simulate(model, inputs, trials=200_000)
    assert round(budget.standard_uncertainty, 2) == 10.15
    assert round(budget.expanded_uncertainty, 1) == 19.9
    assert drawn.high == pytest.approx(17.0, rel=0, abs=0.1)
    assert not agrees(budget, drawn)


def test_clamp_and_voltmeter_shared_by_both_legs():
    """Clamp 2 %, voltmeter 0.7 %, both legs read with the same two: U(k=2) 2.447 %, tolerance 2 % over it 0.82.

    Worked out from JCGM 100, 4.3 and 5.2; no published source.
    """

    def watts(q):
        legs = ((119.7, 21.76), (119.5, 23.62))
        return sum(v * (1.0 + q["volts"]) * i * (1.0 + q["clamp"]) for v, i in legs)

    shared = (Input("volts", 0.0, 0.007, "rectangular"), Input("clamp", 0.0, 0.02, "rectangular"))
    budget = propagate(watts, shared, factor=2.0)
    expanded = 100.0 * budget.expanded_uncertainty / budget.value
    assert expanded == pytest.approx(2.447, rel=0, abs=5e-4)
    assert 2.0 / expanded == pytest.approx(0.82, rel=0, abs=5e-3)


def test_correlated_legs_are_the_same_as_one_shared_input():
    """The same two instruments as four inputs with correlation 1, and as two shared ones."""
    legs = ((119.7, 21.76), (119.5, 23.62))

    def watts(q):
        return sum(v * (1.0 + q[f"v{n}"]) * i * (1.0 + q[f"i{n}"]) for n, (v, i) in enumerate(legs))

    apart = tuple(
        Input(f"{kind}{n}", 0.0, limit, "rectangular") for kind, limit in (("v", 0.007), ("i", 0.02)) for n in (0, 1)
    )
    together = propagate(watts, apart, correlations={("v0", "v1"): 1.0, ("i0", "i1"): 1.0})
    alone = propagate(watts, apart)
    ratio = together.standard_uncertainty / together.value
    assert ratio == pytest.approx(math.hypot(0.007, 0.02) / math.sqrt(3.0), rel=1e-9, abs=0)
    assert alone.standard_uncertainty < 0.75 * together.standard_uncertainty
