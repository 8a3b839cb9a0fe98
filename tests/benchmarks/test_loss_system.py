"""The loss system M/M/c/c in the compiled engine, a C loop, bare SimPy and Ciw, in one run; never asserted.

The share turned away of each is printed beside Erlang's B, so that what is timed is seen to be the same.
"""

from __future__ import annotations

import os
import random
import shutil
import subprocess
from pathlib import Path

import ciw
import pytest
import simpy
from hospitals import loss_system
from table import show

from o2sim.draws import Draws
from o2sim.model.run import simulate

pytestmark = pytest.mark.benchmark
SERVERS, PER_DAY, HOURS, DAYS = 10, 24.0, 9.0, 365
LOAD = PER_DAY * HOURS / 24
C_FILE = Path(__file__).parent / "loss.c"


def _cpu_s():
    """Return the CPU seconds of this process and of the programs it has waited for."""
    return sum(os.times()[:4])


def erlang_b():
    """Return the share lost of a load of 9 offered to 10 servers (Erlang 1917, by the recursion)."""
    lost = 1.0
    for servers in range(1, SERVERS + 1):
        lost = LOAD * lost / (servers + LOAD * lost)
    return lost


def kernel(runs):
    """Return seconds, events and the share turned away, sampling and record included."""
    scenario = loss_system(SERVERS, PER_DAY, HOURS, DAYS)
    simulate(scenario, "units", Draws(2, 0), engine="kernel")
    begin, events, came, lost = _cpu_s(), 0, 0, 0
    for replication in range(runs):
        outcome = simulate(scenario, "units", Draws(1, replication), engine="kernel")
        events, came, lost = events + outcome.events, came + outcome.arrivals, lost + outcome.transferred
    return _cpu_s() - begin, events, lost / came


def c_loop(folder, runs):
    """Return the same of the C program, compiled with gcc -O3."""
    program = folder / "loss"
    subprocess.run(["gcc", "-O3", "-o", program, C_FILE, "-lm"], check=True)
    numbers = [SERVERS, PER_DAY / 86_400, HOURS * 3_600, DAYS * 86_400, runs]
    begin = _cpu_s()
    said = subprocess.run([program, *map(str, numbers)], check=True, capture_output=True, text=True).stdout.split()
    return _cpu_s() - begin, int(said[0]), float(said[1])


def bare_simpy(runs):
    """Return the same of a few lines of SimPy."""
    begin, events, came, lost, busy = _cpu_s(), 0, 0, 0, 0

    def stay(env, luck):
        nonlocal busy, events
        yield env.timeout(luck.expovariate(24 / HOURS))
        busy, events = busy - 1, events + 1

    def arrivals(env, luck):
        nonlocal busy, events, came, lost
        while True:
            yield env.timeout(luck.expovariate(PER_DAY))
            came, events = came + 1, events + 1
            if busy == SERVERS:
                lost += 1
            else:
                busy += 1
                env.process(stay(env, luck))

    for run in range(runs):
        env, busy = simpy.Environment(), 0
        env.process(arrivals(env, random.Random(run)))
        env.run(until=DAYS)
    return _cpu_s() - begin, events, lost / came


def in_ciw(runs):
    """Return the same of Ciw, its events counted as arrivals and ends of service."""
    network = ciw.create_network(
        arrival_distributions=[ciw.dists.Exponential(PER_DAY)],
        service_distributions=[ciw.dists.Exponential(24 / HOURS)],
        number_of_servers=[SERVERS],
        queue_capacities=[0],
    )
    begin, came, lost = _cpu_s(), 0, 0
    for run in range(runs):
        ciw.seed(run)
        simulation = ciw.Simulation(network)
        simulation.simulate_until_max_time(DAYS)
        records = simulation.get_all_records()
        came += len(records)
        lost += sum(record.record_type == "rejection" for record in records)
    return _cpu_s() - begin, 2 * came - lost, lost / came


@pytest.mark.skipif(shutil.which("gcc") is None, reason="no gcc")
def test_loss_system_beside_others(capsys, tmp_path):
    """A year of a load of 9 on 10 units; nanoseconds an event, and each beside the C loop."""
    found = {
        "C, gcc -O3": c_loop(tmp_path, 2_000),
        "o2sim, kernel": kernel(300),
        "SimPy, bare": bare_simpy(10),
        "Ciw": in_ciw(3),
    }
    base = found["C, gcc -O3"]
    rows = [
        (name, f"{s / n * 1e9:,.0f}", f"{(s / n) / (base[0] / base[1]):,.1f}", f"{100 * share:.2f} %")
        for name, (s, n, share) in found.items()
    ]
    rows.append(("Erlang's B", "", "", f"{100 * erlang_b():.2f} %"))
    show(capsys, "loss system", ("program", "ns an event", "times the C loop", "turned away"), rows)
    assert len(rows) == 5
