"""How much findings scatter between airplanes, between pilots, and between findings of one airplane and pilot.

``y = mu + a(airplane) + b(pilot) + c(finding) + e`` with known reading variances of ``e``; each of the three effects
normal with its own variance, estimated together by restricted maximum likelihood (Harville 1977, J. American
Statistical Association 72, 320-338). Where an effect cannot be told from another it is left out and that is said.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.stats import chi2
from scipy.stats import t as student

from wringout.errors import BadInputError
from wringout.fleet.pooling import FloatArray, Range, checked

AIRPLANE, PILOT, FINDING = "airplane", "pilot", "finding"
_SMALL = 1e-12


@dataclass(frozen=True, slots=True)
class Component:
    """One source of scatter.

    Attributes:
        name: "airplane", "pilot" or "finding". levels: how many of them there are.
        variance: estimated. sd: its root.
        p: of the likelihood-ratio test that there is none (half of chi-square, one degree of freedom).
    """

    name: str
    levels: int
    variance: float
    p: float

    @property
    def sd(self) -> float:
        """Standard deviation between levels."""
        return math.sqrt(self.variance)


@dataclass(frozen=True, slots=True)
class Effect:
    """How far one airplane, pilot or finding lies from the mean, drawn towards it; with its standard uncertainty."""

    name: str
    level: str
    value: float
    standard_uncertainty: float


@dataclass(frozen=True, slots=True)
class Scatter:
    """Scatter by source.

    Attributes:
        mean, standard_uncertainty: of the type. interval_95: Student's t, degrees of freedom: airplanes less one.
        prediction_95: for another airplane, pilot and finding; None with fewer than three airplanes.
        log_likelihood: restricted.
        components: those that were estimated. effects: of every level of them.
        remarks: what was left out and why.
    """

    mean: float
    standard_uncertainty: float
    interval_95: Range
    prediction_95: Range | None
    log_likelihood: float
    components: tuple[Component, ...]
    effects: tuple[Effect, ...]
    remarks: tuple[str, ...]

    def component(self, name: str) -> Component:
        """Return a source of scatter by name; raises KeyError."""
        for item in self.components:
            if item.name == name:
                return item
        raise KeyError(name)


def scatter(
    values: Sequence[float], uncertainties: Sequence[float], airplanes: Sequence[str], pilots: Sequence[str]
) -> Scatter:
    """Return how findings scatter by airplane, pilot and finding.

    Raises:
        BadInputError: the lists differ in length, or a number cannot be used.
        FitError: fewer than two findings.
    """
    y, v = checked(values, uncertainties)
    if not len(airplanes) == len(pilots) == y.size:
        raise BadInputError("not every finding has an airplane and a pilot", "findings", "name both for each")
    found = [str(i) for i in range(y.size)]
    groups, remarks = _told_apart({AIRPLANE: list(airplanes), PILOT: list(pilots), FINDING: found})
    designs = {name: _design(levels) for name, levels in groups.items()}
    variances, likelihood = _fit(y, v, list(designs.values()))
    components = tuple(
        Component(name, design.shape[1], variance, _p_of(name, y, v, designs, likelihood))
        for (name, design), variance in zip(designs.items(), variances, strict=True)
    )
    return _assembled(y, v, groups, designs, components, likelihood, remarks)


def _told_apart(given: dict[str, list[str]]) -> tuple[dict[str, list[str]], tuple[str, ...]]:
    """Return the groupings that can be told from each other and from one level, with remarks on the others."""
    kept: dict[str, list[str]] = {}
    remarks = []
    for name, levels in given.items():
        if name != FINDING and len(set(levels)) < 2:
            remarks.append(f"All findings come from one {name}: nothing is known of the scatter between {name}s.")
            continue
        same = next((other for other, known in kept.items() if _partition(known) == _partition(levels)), None)
        if same is None:
            kept[name] = levels
        elif name == FINDING:
            remarks.append(
                f"Every finding is of another {same}: scatter from flight to flight cannot be told from that."
            )
        else:
            remarks.append(
                f"Each {same} was flown by a {name} of its own: scatter between {name}s cannot be told from that "
                f"between {same}s."
            )
    return kept, tuple(remarks)


def _partition(levels: Sequence[str]) -> tuple[int, ...]:
    first: dict[str, int] = {}
    return tuple(first.setdefault(level, len(first)) for level in levels)


def _design(levels: Sequence[str]) -> NDArray[np.float64]:
    names = list(dict.fromkeys(levels))
    design = np.zeros((len(levels), len(names)))
    design[np.arange(len(levels)), [names.index(level) for level in levels]] = 1.0
    return design


def _covariance(v: FloatArray, designs: Sequence[FloatArray], variances: Sequence[float]) -> FloatArray:
    total = np.diag(v)
    for design, variance in zip(designs, variances, strict=True):
        total = total + variance * design @ design.T
    return np.asarray(total)


def _log_likelihood(y: FloatArray, covariance: FloatArray) -> tuple[float, float, float]:
    """Return the restricted log likelihood, the mean and its variance."""
    root = np.linalg.cholesky(covariance)
    ones, data = np.linalg.solve(root, np.ones(y.size)), np.linalg.solve(root, y)
    information = float(ones @ ones)
    mean = float(ones @ data) / information
    rest = data - mean * ones
    log_det = 2.0 * float(np.log(np.diag(root)).sum())
    constant = (y.size - 1) * math.log(2.0 * math.pi) - math.log(y.size)
    return -0.5 * (constant + log_det + math.log(information) + float(rest @ rest)), mean, 1.0 / information


def _fit(y: FloatArray, v: FloatArray, designs: Sequence[FloatArray]) -> tuple[tuple[float, ...], float]:
    """Return the variances with the highest restricted likelihood, from several starts, and that likelihood."""
    if not designs:
        return (), _log_likelihood(y, np.diag(v))[0]
    scale = max(float(np.var(y, ddof=1)), float(v.min()))

    def loss(roots: FloatArray) -> float:
        return -_log_likelihood(y, _covariance(v, designs, list(scale * roots**2)))[0]

    best: tuple[float, FloatArray] | None = None
    starts = [
        np.full(len(designs), 0.3),
        *(np.where(np.arange(len(designs)) == k, 0.7, 0.05) for k in range(len(designs))),
    ]
    for start in starts:
        bounds = [(0.0, 10.0)] * len(designs)
        rough = minimize(loss, start, method="L-BFGS-B", bounds=bounds)
        fine = minimize(loss, rough.x, method="Nelder-Mead", bounds=bounds, options={"xatol": 1e-9, "fatol": 1e-12})
        if best is None or fine.fun < best[0]:
            best = float(fine.fun), fine.x
    if best is None:  # pragma: no cover - there is always a start
        raise AssertionError
    found = [float(scale * x**2) for x in best[1]]
    return tuple(x if x > _SMALL * scale else 0.0 for x in found), -best[0]


def _p_of(name: str, y: FloatArray, v: FloatArray, designs: dict[str, FloatArray], likelihood: float) -> float:
    _, without = _fit(y, v, [design for key, design in designs.items() if key != name])
    gain = max(2.0 * (likelihood - without), 0.0)
    return 1.0 if gain < 1e-9 else 0.5 * float(chi2.sf(gain, 1))


def _assembled(
    y: FloatArray,
    v: FloatArray,
    groups: dict[str, list[str]],
    designs: dict[str, FloatArray],
    components: tuple[Component, ...],
    likelihood: float,
    remarks: tuple[str, ...],
) -> Scatter:
    covariance = _covariance(v, list(designs.values()), [c.variance for c in components])
    _, mean, variance = _log_likelihood(y, covariance)
    airplanes = designs[AIRPLANE].shape[1] if AIRPLANE in designs else y.size
    half = float(student.ppf(0.975, max(airplanes - 1, 1))) * math.sqrt(variance)
    total = sum(c.variance for c in components) + variance
    far = float(student.ppf(0.975, airplanes - 2)) * math.sqrt(total) if airplanes >= 3 else None
    return Scatter(
        mean=mean,
        standard_uncertainty=math.sqrt(variance),
        interval_95=(mean - half, mean + half),
        prediction_95=None if far is None else (mean - far, mean + far),
        log_likelihood=likelihood,
        components=components,
        effects=_effects(y, covariance, mean, variance, groups, designs, components),
        remarks=remarks,
    )


def _effects(
    y: FloatArray,
    covariance: FloatArray,
    mean: float,
    mean_variance: float,
    groups: dict[str, list[str]],
    designs: dict[str, FloatArray],
    components: tuple[Component, ...],
) -> tuple[Effect, ...]:
    """Return the best linear unbiased predictions of all effects with their standard errors (the mean's included)."""
    inverse = np.linalg.inv(covariance)
    pulled = inverse.sum(axis=1)
    found = []
    for component in components:
        design = designs[component.name]
        cross = component.variance * design.T
        values = cross @ inverse @ (y - mean)
        own = component.variance - np.einsum("ij,jk,ik->i", cross, inverse, cross)
        doubt = np.sqrt(np.maximum(own + (cross @ pulled) ** 2 * mean_variance, 0.0))
        names = list(dict.fromkeys(groups[component.name]))
        found += [
            Effect(component.name, level, float(a), float(b)) for level, a, b in zip(names, values, doubt, strict=True)
        ]
    return tuple(found)
