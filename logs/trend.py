"""Whether a short, tied series of scores rises or falls: Theil-Sen slope and Mann-Kendall test.

Pure. Robust to single bad days and to scores that are only ranks. Both assume that points are
independent; days in a row are not, so call the result indicative.

The slope is the median of the slopes between all pairs of points of different times (Theil 1950;
Sen 1968). Its interval follows Gilbert (1987, pp. 217-218): with C = z × √Var(S) of N slopes, the
limits are the (N - C) / 2-th and the ((N + C) / 2 + 1)-th slope in order, interpolated between
ranks. The intercept is Conover's: median(values) - slope × median(times).

S counts pairs that rise less pairs that fall; pairs of one time count nothing. Up to ten points of
different times p is exact, ties in the values included; beyond, it is the normal approximation
with tie and continuity correction (Gilbert 1987, section 16.4).

Sodium in a well, USEPA 2009, Unified Guidance, example 17-7:

>>> years = [89.6, 90.1, 90.8, 91.1, 92.1, 93.1, 94.1, 95.6, 96.1, 96.3]
>>> sodium = trend(years, [56, 53, 51, 55, 52, 60, 62, 59, 61, 63])
>>> f"{sodium.slope:.4f} from {sodium.lower:.4f} to {sodium.upper:.4f}"
'1.3333 from 0.3992 to 2.3333'
>>> f"{sodium.p_normal:.5f} {sodium.p_exact:.5f} {sodium.shows}"
'0.03182 0.02861 rising'

Four points could not show a trend, whatever they were:

>>> print(trend([1, 2, 3, 4], [0, 3, 6, 9]).shows)
too few points to show a trend
"""

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from itertools import combinations
from statistics import NormalDist, median

import numpy as np
import numpy.typing as npt

type Slopes = list[float] | npt.NDArray[np.float64]
type Indices = npt.NDArray[np.intp]

EXACT_TO = 10
"""The most points for which p is exact (Gilbert 1987, section 16.4)."""

_PLAIN_TO = 16
# Up to here a plain loop is quicker than setting up arrays.


class Shown(StrEnum):
    """What a test can say of a series."""

    TOO_FEW = "too few points to show a trend"
    RISING = "rising"
    FALLING = "falling"
    NONE = "no trend shown"


@dataclass(frozen=True, slots=True)
class Trend:
    """A slope per unit of time with its interval, and the test of whether there is any trend.

    ``slope`` is None without two different times. ``lower`` and ``upper`` are None where so few
    points bound nothing. ``p_exact`` is None where it was not worked out.
    """

    points: int
    slope: float | None
    lower: float | None
    upper: float | None
    intercept: float | None
    s: int
    variance: float
    tau_b: float | None
    z: float
    p_normal: float
    p_exact: float | None
    shows: Shown

    @property
    def p(self) -> float:
        """The two-sided p to judge by: exact where it is known."""
        return self.p_normal if self.p_exact is None else self.p_exact


def trend(times: Sequence[float], values: Sequence[float], *, confidence: float = 0.95) -> Trend:
    """Return the trend of values over times; both are numbers, and blanks must be left out.

    A trend is shown when the two-sided p is at most 1 - ``confidence``; there are too few points
    when no order of the same values could have reached that. ValueError if the lengths differ, a
    number is not finite, or the confidence is not between 0 and 1.
    """
    if len(times) != len(values):
        raise ValueError(f"{len(times)} times do not go with {len(values)} values")
    if not all(map(math.isfinite, (*times, *values))):
        raise ValueError("a trend needs finite numbers; leave blanks out")
    if not 0 < confidence < 1:
        raise ValueError(f"a confidence lies between 0 and 1, unlike {confidence}")
    n, alpha = len(values), 1 - confidence
    s, slopes = _pairs(times, values)
    time_ties, ties = _ties(times), _ties(values)
    variance = _variance(time_ties, ties)
    z = (s - (s > 0) + (s < 0)) / math.sqrt(variance) if s else 0.0
    p_normal = math.erfc(abs(z) / math.sqrt(2))
    p_exact = None
    if n <= EXACT_TO and len(time_ties) == n:
        p_exact = min(1.0, 2 * exact_p_at_least(abs(s), ties))
    slope, lower, upper = _slope_and_limits(slopes, confidence, variance)
    return Trend(
        points=n,
        slope=slope,
        lower=lower,
        upper=upper,
        intercept=None if slope is None else median(values) - slope * median(times),
        s=s,
        variance=variance,
        tau_b=_tau_b(s, time_ties, ties),
        z=z,
        p_normal=p_normal,
        p_exact=p_exact,
        shows=_shown(s, p_normal if p_exact is None else p_exact, ties, alpha),
    )


def exact_p_at_least(s: int, ties: Iterable[int]) -> float:
    """Return the chance of an S of at least ``s`` when every order of the values is as likely.

    ``ties`` are the sizes of the groups of equal values, a value of its own being a group of one;
    times all differ. The orders are counted by their inversions, whose numbers are the
    coefficients of the Gaussian multinomial: each further value multiplies by (1 - q^placed) and
    divides by (1 - q^k), k being its place in its group. Nothing is enumerated.

    >>> round(exact_p_at_least(4, [1, 1, 1, 1]), 4)
    0.1667
    """
    ways = _orders_by_inversions(tuple(sorted(ties)))
    most = len(ways) - 1  # S = most - 2 × inversions
    return sum(ways[: max(0, (most - s) // 2 + 1)]) / sum(ways)


@lru_cache(maxsize=256)
def _orders_by_inversions(ties: tuple[int, ...]) -> tuple[int, ...]:
    ways = [1]
    placed = 0
    for size in ties:
        for k in range(1, size + 1):
            placed += 1
            ways = [
                (ways[i] if i < len(ways) else 0) - (ways[i - placed] if i >= placed else 0)
                for i in range(len(ways) + placed)
            ]
            for i in range(k, len(ways)):
                ways[i] += ways[i - k]
            del ways[len(ways) - k :]
    return tuple(ways)


def _pairs(times: Sequence[float], values: Sequence[float]) -> tuple[int, Slopes]:
    """S, and the slope of each pair of different times, in no order."""
    if len(values) > _PLAIN_TO:
        order = np.argsort(times, kind="stable")
        t, y = np.asarray(times, float)[order], np.asarray(values, float)[order]
        earlier, later = _upper_triangle(len(values))
        # In place, as new arrays of this size cost more than the computing.
        run, rise = t.take(later), y.take(later)
        run -= t.take(earlier)
        rise -= y.take(earlier)
        if not run.all():
            run, rise = run[run > 0], rise[run > 0]
        rise /= run
        return int(np.count_nonzero(rise > 0) - np.count_nonzero(rise < 0)), rise
    s, slopes = 0, []
    for (t1, y1), (t2, y2) in combinations(sorted(zip(times, values, strict=True)), 2):
        if t1 != t2:
            s += (y2 > y1) - (y2 < y1)
            slopes.append((y2 - y1) / (t2 - t1))
    return s, slopes


@lru_cache(maxsize=16)
def _upper_triangle(n: int) -> tuple[Indices, Indices]:
    earlier, later = np.triu_indices(n, 1)
    return earlier, later


def _slope_and_limits(
    slopes: Slopes, confidence: float, variance: float
) -> tuple[float | None, float | None, float | None]:
    """The median slope, and the two limits by Gilbert's ranks, counted from 1."""
    n = len(slopes)
    if not n:
        return None, None, None
    half_width = NormalDist().inv_cdf((1 + confidence) / 2) * math.sqrt(variance)
    lower_rank = (n - half_width) / 2
    whole, part = int(lower_rank // 1), lower_rank % 1
    wanted = {(n - 1) // 2, n // 2}
    if lower_rank >= 1:
        wanted |= {whole - 1, whole, n - whole - 1, n - whole}
    slopes.sort()  # quicker than to part them at six ranks
    at = {rank: float(slopes[rank]) for rank in wanted}
    middle = (at[(n - 1) // 2] + at[n // 2]) / 2
    if lower_rank < 1:
        return middle, None, None
    lower = at[whole - 1] + part * (at[whole] - at[whole - 1])
    upper = at[n - whole] - part * (at[n - whole] - at[n - whole - 1])
    return middle, lower, upper


def _variance(t: Sequence[int], u: Sequence[int]) -> float:
    """Of S without a trend, equal times and equal values corrected (Kendall 1976, eq. 4.4)."""
    n = sum(u)

    def spread(size: int) -> int:
        return size * (size - 1) * (2 * size + 5)

    def triples(sizes: Iterable[int]) -> int:
        return sum(size * (size - 1) * (size - 2) for size in sizes)

    def pairs(sizes: Iterable[int]) -> int:
        return sum(size * (size - 1) for size in sizes)

    variance = (spread(n) - sum(map(spread, t)) - sum(map(spread, u))) / 18
    if n > 1:
        variance += pairs(t) * pairs(u) / (2 * n * (n - 1))
    if n > 2:
        variance += triples(t) * triples(u) / (9 * n * (n - 1) * (n - 2))
    return variance


def _tau_b(s: int, *ties: Sequence[int]) -> float | None:
    untied = [
        math.comb(sum(sizes), 2) - sum(math.comb(size, 2) for size in sizes) for sizes in ties
    ]
    return s / math.sqrt(untied[0] * untied[1]) if all(untied) else None


def _shown(s: int, p: float, ties: Sequence[int], alpha: float) -> Shown:
    orders = math.factorial(sum(ties)) // math.prod(map(math.factorial, ties))
    if sum(ties) < _fewest(alpha) or (len(ties) > 1 and 2 / orders > alpha):
        return Shown.TOO_FEW
    if p > alpha:
        return Shown.NONE
    return Shown.RISING if s > 0 else Shown.FALLING


def _fewest(alpha: float) -> int:
    """The fewest points of which some order has a two-sided p of at most ``alpha``."""
    n = 2
    while 2 / math.factorial(n) > alpha:
        n += 1
    return n


def _ties(numbers: Sequence[float]) -> list[int]:
    return list(Counter(numbers).values())
