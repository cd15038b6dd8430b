"""Published models of cold hardiness, written down here only to check our own pace against them.

None of them is used by the package: each is fitted to one crop.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass
class GrapevineBuds:
    """Ferguson et al. 2011, Am. J. Enol. Vitic. 62(1), cv. Chardonnay: parameters as in a research script.

    `hardiness_c` is the temperature that kills half of the buds; `chilling_k_d` counts degree-days below the
    endodormant threshold, and at -750 the buds pass from endo- to ecodormancy.
    """

    hardiness_c: float = -10.55
    chilling_k_d: float = 0.0

    LEAST_C, MOST_C = -3.0, -25.24
    THRESHOLD_C = (11.75, 3.75)
    ACCLIMATION, DEACCLIMATION = (0.14, 0.07), (0.01, 0.13)

    def day(self, mean_c: float, *, eco: bool | None = None) -> float:
        phase = int(self.chilling_k_d <= -750.0 if eco is None else eco)
        above = mean_c - self.THRESHOLD_C[phase]
        self.chilling_k_d += min(mean_c - self.THRESHOLD_C[0], 0.0)
        width = self.LEAST_C - self.MOST_C
        gained = min(above, 0.0) * self.ACCLIMATION[phase] * (1.0 - (self.LEAST_C - self.hardiness_c) / width)
        lost = max(above, 0.0) * self.DEACCLIMATION[phase] * (1.0 - (self.hardiness_c - self.MOST_C) / width)
        self.hardiness_c = min(max(self.hardiness_c + gained + lost, self.MOST_C), self.LEAST_C)
        return self.hardiness_c

    @property
    def hardened(self) -> float:
        """From 0, the least, to 1, the most."""
        return (self.LEAST_C - self.hardiness_c) / (self.LEAST_C - self.MOST_C)


@dataclass
class WheatCrown:
    """FROSTOL, Bergjord, Bonesmo & Skjelvag 2008, Eur. J. Agron.: structure as in open crop-model documentation.

    Coefficients from memory. Snow and respiration are left out; before vernalisation throughout.
    """

    hardiest_c: float = -24.0
    lt50_c: float = math.nan

    HARDENING, SOFTENING = 0.0093, 2.7e-5

    def __post_init__(self) -> None:
        if math.isnan(self.lt50_c):
            self.lt50_c = self.softest_c

    @property
    def softest_c(self) -> float:
        return -0.6 + 0.142 * self.hardiest_c

    def day(self, crown_c: float) -> float:
        if crown_c < 10.0:
            cold_k = 10.0 - max(crown_c, 0.0)
            self.lt50_c -= self.HARDENING * cold_k * (self.lt50_c - self.hardiest_c)
        else:
            self.lt50_c += self.SOFTENING * (self.softest_c - self.lt50_c) * (crown_c + 4.0) ** 3
        self.lt50_c = min(max(self.lt50_c, self.hardiest_c), self.softest_c)
        return self.lt50_c

    @property
    def hardened(self) -> float:
        return (self.softest_c - self.lt50_c) / (self.softest_c - self.hardiest_c)

    @staticmethod
    def killed(minimum_c: float, lt50_c: float) -> float:
        return 1.0 / (1.0 + math.exp((minimum_c - lt50_c) / 1.019))


def ceres_index(means_c: Sequence[float], maxima_c: Sequence[float]) -> list[float]:
    """Hardening index of CERES-Wheat, 0 to 2, day by day.

    Stage 1 gains 0.1 a day at 3.5 degC, falling to 0.06 at -1 and 8 degC; stage 2 a twelfth a day below 0 degC;
    both lose 0.02 for each kelvin of the maximum above 10 degC.
    """
    index, course = 0.0, []
    for mean_c, maximum_c in zip(means_c, maxima_c, strict=True):
        if index < 1.0 and -1.0 <= mean_c <= 8.0:
            index = min(index + 0.1 - 0.04 * ((mean_c - 3.5) / 4.5) ** 2, 1.0)
        elif index >= 1.0 and mean_c <= 0.0:
            index = min(index + 1.0 / 12.0, 2.0)
        index = max(index - 0.02 * max(maximum_c - 10.0, 0.0), 0.0)
        course.append(index)
    return course
