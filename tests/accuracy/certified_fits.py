"""Five data sets with certified answers, to hold the solver of the joint fit against.

Source: National Institute of Standards and Technology, Statistical Reference Datasets (StRD), nonlinear least squares
regression: Misra1a, DanWood, Thurber, Eckerle4, MGH09. Data, starting values and certified values (parameter, standard
deviation of the parameter, residual standard deviation) are NIST's; the models are written here. NIST asks for starts
far from (first) and near to (second) the answer.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class CertifiedFit:
    """One data set. ``values`` and ``errors`` are certified, in the order of the parameters of ``model(x, b)``."""

    name: str
    model: Callable[[Array, Array], Array]
    x: Array
    y: Array
    starts: tuple[Array, ...]
    values: Array
    errors: Array
    residual_sd: float


def _array(*numbers: float) -> Array:
    return np.array(numbers, dtype=np.float64)


MISRA1A = CertifiedFit(
    "Misra1a",
    lambda x, b: b[0] * (1.0 - np.exp(-b[1] * x)),
    _array(77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0),
    _array(10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78),
    (_array(500.0, 0.0001), _array(250.0, 0.0005)),
    _array(238.94212918, 0.00055015643181),
    _array(2.7070075241, 7.2668688436e-06),
    0.10187876330,
)

DANWOOD = CertifiedFit(
    "DanWood",
    lambda x, b: b[0] * x ** b[1],
    _array(1.309, 1.471, 1.490, 1.565, 1.611, 1.680),
    _array(2.138, 3.421, 3.597, 4.340, 4.882, 5.660),
    (_array(1.0, 5.0), _array(0.7, 4.0)),
    _array(0.76886226176, 3.8604055871),
    _array(0.018281973860, 0.051726610913),
    0.032853114039,
)

THURBER = CertifiedFit(
    "Thurber",
    lambda x, b: (b[0] + x * (b[1] + x * (b[2] + x * b[3]))) / (1.0 + x * (b[4] + x * (b[5] + x * b[6]))),
    _array(
        *(-3.067, -2.981, -2.921, -2.912, -2.840, -2.797, -2.702, -2.699, -2.633, -2.481, -2.363, -2.322),
        *(-1.501, -1.460, -1.274, -1.212, -1.100, -1.046, -0.915, -0.714, -0.566, -0.545, -0.400, -0.309),
        *(-0.109, -0.103, 0.010, 0.119, 0.377, 0.790, 0.963, 1.006, 1.115, 1.572, 1.841, 2.047, 2.200),
    ),
    _array(
        *(80.574, 84.248, 87.264, 87.195, 89.076, 89.608, 89.868, 90.101, 92.405, 95.854, 100.696, 101.060),
        *(401.672, 390.724, 567.534, 635.316, 733.054, 759.087, 894.206, 990.785, 1090.109, 1080.914, 1122.643),
        *(1178.351, 1260.531, 1273.514, 1288.339, 1327.543, 1353.863, 1414.509, 1425.208, 1421.384, 1442.962),
        *(1464.350, 1468.705, 1447.894, 1457.628),
    ),
    (_array(1000.0, 1000.0, 400.0, 40.0, 0.7, 0.3, 0.03), _array(1300.0, 1500.0, 500.0, 75.0, 1.0, 0.4, 0.05)),
    _array(1288.1396800, 1491.0792535, 583.23836877, 75.416644291, 0.96629502864, 0.39797285797, 0.049727297349),
    _array(4.6647963344, 39.571156086, 28.698696102, 5.5675370270, 0.031333340687, 0.014984928198, 0.0065842344623),
    13.714600784,
)

ECKERLE4 = CertifiedFit(
    "Eckerle4",
    lambda x, b: b[0] / b[1] * np.exp(-0.5 * ((x - b[2]) / b[1]) ** 2),
    _array(
        *(400.0, 405.0, 410.0, 415.0, 420.0, 425.0, 430.0, 435.0, 436.5, 438.0, 439.5, 441.0, 442.5, 444.0, 445.5),
        *(447.0, 448.5, 450.0, 451.5, 453.0, 454.5, 456.0, 457.5, 459.0, 460.5, 462.0, 463.5, 465.0, 470.0, 475.0),
        *(480.0, 485.0, 490.0, 495.0, 500.0),
    ),
    _array(
        *(0.0001575, 0.0001699, 0.0002350, 0.0003102, 0.0004917, 0.0008710, 0.0017418, 0.0046400, 0.0065895),
        *(0.0097302, 0.0149002, 0.0237310, 0.0401683, 0.0712559, 0.1264458, 0.2073413, 0.2902366, 0.3445623),
        *(0.3698049, 0.3668534, 0.3106727, 0.2078154, 0.1164354, 0.0616764, 0.0337200, 0.0194023, 0.0117831),
        *(0.0074357, 0.0022732, 0.0008800, 0.0004579, 0.0002345, 0.0001586, 0.0001143, 0.0000710),
    ),
    (_array(1.0, 10.0, 500.0), _array(1.5, 5.0, 450.0)),
    _array(1.5543827178, 4.0888321754, 451.54121844),
    _array(0.015408051163, 0.046803020753, 0.046800518816),
    0.0067629245447,
)

MGH09 = CertifiedFit(
    "MGH09",
    lambda x, b: b[0] * (x**2 + x * b[1]) / (x**2 + x * b[2] + b[3]),
    _array(4.0, 2.0, 1.0, 0.5, 0.25, 0.167, 0.125, 0.1, 0.0833, 0.0714, 0.0625),
    _array(0.1957, 0.1947, 0.1735, 0.16, 0.0844, 0.0627, 0.0456, 0.0342, 0.0323, 0.0235, 0.0246),
    (_array(25.0, 39.0, 41.5, 39.0), _array(0.25, 0.39, 0.415, 0.39)),
    _array(0.19280693458, 0.19128232873, 0.12305650693, 0.13606233068),
    _array(0.011435312227, 0.19633220911, 0.080842031232, 0.090025542308),
    0.0066279236551,
)

DATA_SETS = (MISRA1A, DANWOOD, THURBER, ECKERLE4, MGH09)
