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


@dataclass(frozen=True)
class Genotype:
    """One grapevine of Ferguson et al. 2014: pairs are endo- and ecodormant.

    `start_c` in early autumn, `least_c` and `most_c` that it can stand; buds burst at `burst_c`.
    """

    start_c: float
    least_c: float
    most_c: float
    threshold_c: tuple[float, float]
    chilling_k_d: float
    acclimation: tuple[float, float]
    deacclimation: tuple[float, float]
    theta: float

    @property
    def burst_c(self) -> float:
        return -2.2 if self.least_c == -1.2 else -6.4  # V. vinifera, V. labruscana


# Ferguson, Moyer, Mills, Hoogenboom & Keller 2014, Modeling dormant bud cold hardiness and budbreak in twenty-three
# Vitis genotypes reveals variation by region of origin, Am. J. Enol. Vitic. 65(1):59-71. The paper itself was not
# seen: values as in the variety tables of two independent public programs that name it (for all 23 genotypes in
# cueas-rickmoore/frost-dev, frost/grape/varieties.py), which agree in every cell.
GENOTYPES = {
    "Cabernet Sauvignon": Genotype(-10.3, -1.2, -25.1, (13.0, 5.0), -700.0, (0.12, 0.10), (0.08, 0.10), 7.0),
    "Chardonnay": Genotype(-11.8, -1.2, -25.7, (14.0, 3.0), -600.0, (0.10, 0.02), (0.10, 0.08), 7.0),
    "Riesling": Genotype(-12.6, -1.2, -26.1, (12.0, 5.0), -700.0, (0.14, 0.10), (0.02, 0.12), 7.0),
    "Merlot": Genotype(-10.3, -1.2, -25.0, (13.0, 5.0), -500.0, (0.10, 0.02), (0.04, 0.10), 7.0),
    "Sangiovese": Genotype(-10.7, -1.2, -21.9, (11.0, 3.0), -700.0, (0.14, 0.02), (0.02, 0.06), 7.0),
    "Concord": Genotype(-12.8, -2.5, -29.5, (13.0, 3.0), -600.0, (0.12, 0.10), (0.02, 0.10), 3.0),
}


@dataclass
class GrapevineBudsOf2014:
    """The later model: chilling below 10 degC ends endodormancy, and buds give way faster the nearer they are to burst.

    Before the first day below the endodormant threshold nothing is lost.
    """

    genotype: Genotype
    hardiness_c: float
    chilling_k_d: float = 0.0
    begun: bool = False

    def day(self, mean_c: float, *, eco: bool | None = None) -> float:
        of = self.genotype
        phase = int(self.chilling_k_d <= of.chilling_k_d if eco is None else eco)
        above = mean_c - of.threshold_c[phase]
        left = (self.hardiness_c - of.most_c) / (of.least_c - of.most_c)  # 0 at the hardiest, 1 at the least hardy
        gained = min(above, 0.0) * of.acclimation[phase] * left
        bracket = 1.0 - left ** (of.theta if phase else 1.0)
        lost = max(above, 0.0) * of.deacclimation[phase] * bracket if self.begun else 0.0
        self.begun = self.begun or above < 0.0
        self.chilling_k_d += min(mean_c - 10.0, 0.0)
        self.hardiness_c = min(max(self.hardiness_c + gained + lost, of.most_c), of.least_c)
        return self.hardiness_c

    @property
    def hardened(self) -> float:
        """From 0, the least, to 1, the most."""
        of = self.genotype
        return (of.least_c - self.hardiness_c) / (of.least_c - of.most_c)


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
