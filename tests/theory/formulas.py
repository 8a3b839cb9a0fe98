"""Closed forms of queueing, inventory and reliability theory; nothing here knows the simulator.

Times are in the unit of the caller (days, or hours for power); rates are per that unit. Sources stand beside the
checks that use them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
from scipy import integrate, linalg, optimize, stats

Floats = npt.NDArray[np.float64]


def erlang_b(servers: int, load: float) -> float:
    """Return the share of arrivals that find all servers taken, by the recursion in the number of servers."""
    blocked = 1.0
    for count in range(1, servers + 1):
        blocked = load * blocked / (count + load * blocked)
    return blocked


def poisson_excess(mean: float, level: int) -> float:
    """Return E(N - level)+ for N ~ Poisson(mean)."""
    return float(mean * stats.poisson.sf(level - 1, mean) - level * stats.poisson.sf(level, mean))


def kaufman_roberts(capacity: int, sizes: Sequence[int], loads: Sequence[float]) -> list[float]:
    """Return, a class, the share of arrivals that find too little of a shared capacity left."""
    weight = np.zeros(capacity + 1)
    weight[0] = 1.0
    for used in range(1, capacity + 1):
        flows = (
            load * size * weight[used - size] for size, load in zip(sizes, loads, strict=True) if size <= used
        )
        weight[used] = sum(flows) / used
    share = weight / weight.sum()
    return [float(share[capacity - size + 1 :].sum()) for size in sizes]


def compound_poisson(mean: float, chances: dict[int, float], top: int) -> Floats:
    """Return P(sum = 0 .. top) of a Poisson(mean) number of whole sizes with these chances, by Panjer."""
    mass = np.zeros(top + 1)
    mass[0] = math.exp(-mean)
    for total in range(1, top + 1):
        parts = (size * chance * mass[total - size] for size, chance in chances.items() if size <= total)
        mass[total] = mean / total * sum(parts)
    return mass


def lognormal(mean: float, sd: float) -> stats.rv_frozen:
    """Return the lognormal law with this mean and standard deviation."""
    variance = math.log(1 + (sd / mean) ** 2)
    return stats.lognorm(s=math.sqrt(variance), scale=mean * math.exp(-variance / 2))


def present_from_empty(rate: float, stay: stats.rv_frozen, until: float) -> float:
    """Return the mean number present a time after an empty start: rate times the integral of P(stay > u)."""
    return rate * float(integrate.quad(stay.sf, 0, until, epsabs=1e-10)[0])


def seasonal_lag(stay: float, turn: float) -> float:
    """Return how long after the rate's peak the number present peaks, exponential stays, period `turn`."""
    return math.atan(2 * math.pi / turn * stay) * turn / (2 * math.pi)


def seasonal_present(day: float, rate: float, amplitude: float, peak: float, stay: float, turn: float) -> float:
    """Return the mean present for rate (1 + amplitude cos(2 pi (day - peak) / turn)), exponential stays."""
    pulse = 2 * math.pi / turn
    swing = amplitude / math.hypot(1, pulse * stay)
    return rate * stay * (1 + swing * math.cos(pulse * (day - peak - seasonal_lag(stay, turn))))


def integral_sd(variance: float, stay: float, length: float) -> float:
    """Return the sd of the integral over `length` of a process with covariance variance x exp(-t / stay)."""
    turns = length / stay
    return math.sqrt(2 * variance * stay**2 * (turns - 1 + math.exp(-turns)))


def hadley_whitin(mean: float, reorder: int, quantity: int) -> tuple[float, float, float]:
    """Return (fill rate, P(no shortage in a cycle), mean on hand), lead-time demand Poisson(mean), backorders."""
    positions = np.arange(reorder + 1, reorder + quantity + 1)
    short = float(np.mean(stats.poisson.sf(positions - 1, mean)))
    on_hand = float(np.mean([position - mean + poisson_excess(mean, position) for position in positions]))
    return 1 - short, float(stats.poisson.cdf(reorder, mean)), on_hand


def lead_time_demand(rate: float, shape: float, mean_lead: float) -> stats.rv_frozen:
    """Return the law of Poisson demand in a gamma lead time: negative binomial."""
    return stats.nbinom(shape, 1 / (1 + rate * mean_lead / shape))


def first_passage(stock: int, rate: float, lead: float, length: float) -> float:
    """Return P(a demand meets no stock within `length`), base stock, exponential lead times, start full."""
    up, states = rate, stock + 2  # outstanding 0 .. stock, then short for good
    generator = np.zeros((states, states))
    for outstanding in range(stock + 1):
        generator[outstanding, outstanding + 1] = up
        if outstanding:
            generator[outstanding, outstanding - 1] = outstanding / lead
        generator[outstanding, outstanding] = -generator[outstanding].sum()
    return min(1.0, float(linalg.expm(generator * length)[0, -1]))  # rounding may take it above 1


def availability(at: float, up: float, down: float) -> float:
    """Return P(up at a time) of exponential up- and down-times, up at first."""
    return up / (up + down) + down / (up + down) * math.exp(-at * (1 / up + 1 / down))


def mean_down(length: float, up: float, down: float) -> float:
    """Return the mean time down within `length`, up at first."""
    rate = 1 / up + 1 / down
    return down / (up + down) * (length - (1 - math.exp(-rate * length)) / rate)


def down_time_within(limit: float, length: float, up: float, down: float) -> float:
    """Return P(time down within `length` <= limit): the failures in length - limit of up-time fit in limit."""
    failures = stats.poisson((length - limit) / up)
    counts = np.arange(1, int(failures.ppf(1 - 1e-13)) + 2)
    return float(failures.pmf(0) + failures.pmf(counts) @ stats.gamma.cdf(limit, counts, scale=down))


def some_cut_over(limit: float, length: float, up: float, down: float) -> float:
    """Return P(some down-time reaches `limit` within `length`), up at first.

    The wait for it is up-times and short down-times in turn, then one more up-time and `limit`. Its tail is read
    from the rightmost pole of the transform; the other poles are gone by any length of many cycles.
    """

    def short_cycle(pole: float) -> float:  # E exp(pole x (up-time + down-time)) over short down-times
        fall = 1 / down - pole
        return (1 - math.exp(-fall * limit)) / (down * fall * (1 - up * pole))

    def last(pole: float) -> float:
        return math.exp(pole * limit - limit / down) / (1 - up * pole)

    pole = float(optimize.brentq(lambda x: short_cycle(x) - 1, 0, 0.999 / up, xtol=1e-16))
    step = 1e-6 / up
    slope = (short_cycle(pole + step) - short_cycle(pole - step)) / (2 * step)
    return 1 - last(pole) / (pole * slope) * math.exp(-pole * length)


def overflow_from_units(mean: float, units: int, available: float) -> float:
    """Return E(N - W)+, N ~ Poisson(mean) patients, W ~ binomial(units, available) working units."""
    chances = stats.binom.pmf(range(units + 1), units, available)
    return float(sum(p * poisson_excess(mean, working) for working, p in enumerate(chances)))


def overflow_group(servers: int, load: float) -> tuple[float, float]:
    """Return mean and variance of those who found all servers taken and went to an ample second group."""
    mean = load * erlang_b(servers, load)
    return mean, mean * (1 - mean + load / (servers + 1 - load + mean))


def waits_longer(limit: float, servers: int, rate: float, stay: stats.rv_frozen) -> float:
    """Return the share of patients unserved for longer than `limit`, first come first served, need by the clock.

    Such a patient stays that long, and of those who came before, Poisson in number, as many as there are servers
    are still present then.
    """
    ahead = rate * (stay.mean() - float(integrate.quad(stay.sf, 0, limit, epsabs=1e-12)[0]))
    return float(stay.sf(limit) * stats.poisson.sf(servers - 1, ahead))


def closed_road(chance: float, days: int) -> tuple[float, float]:
    """Return (chance that the road is closed, mean days until it opens) at noon.

    A closure of some whole days starts each midnight with a chance; the road opens after a run of as many
    midnights without a start.
    """
    clear = 1 - chance
    from_start = (clear**-days - 1) / chance  # mean midnights until such a run, from the start of a closure
    left, mean = 0.0, 0.0
    for age in reversed(range(days)):  # days since the last start; left: mean days to go from this midnight
        left = 1 + chance * from_start + clear * left
        mean += chance * clear**age * (left - 0.5)
    return 1 - clear**days, mean


def empty_share(depth: float, to_cut: float, to_grid: float, rise: float) -> float:
    """Return the stationary chance of (cut, empty) of a store that falls at 1 in a cut and rises at `rise` else.

    The densities solve rise f_on' = to_grid f_off - to_cut f_on and -f_off' = to_cut f_on - to_grid f_off, and no
    flux passes a level: rise f_on = f_off. So both go as exp(k x), k = to_grid - to_cut / rise, with atoms
    f_off(0) / to_grid, empty in a cut, and rise f_on(depth) / to_cut, full with the grid.
    """
    k = to_grid - to_cut / rise
    inside = (1 + 1 / rise) * (math.exp(k * depth) - 1) / k
    empty, full = 1 / to_grid, math.exp(k * depth) / to_cut
    return empty / (empty + inside + full)


def machine_repair(units: int, crew: int, load: float) -> list[float]:
    """Return the chance of 0, 1 ... units working; load is mean repair time over mean life."""
    weights = [1.0]  # by the number that has failed
    for failed in range(units):
        weights.append(weights[-1] * (units - failed) * load / min(failed + 1, crew))
    return [weight / sum(weights) for weight in reversed(weights)]
