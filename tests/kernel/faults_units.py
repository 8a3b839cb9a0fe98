"""Faults in the rules of unlike concentrators: models, ages, clocks that go on, power by unit, starting surge."""

from __future__ import annotations

from faults import Fault

KERNEL = (
    Fault(
        "what holds for the first model holds for all",
        "kernel/layout.py",
        "return _unit_rules_at(k, u.group)",
        "return _unit_rules_at(k, 0)",
        needs="concentrators.listed",
    ),
    Fault(
        "a unit of a model is known to the draws by its number",
        "kernel/memory.py",
        "[item_word(item) for item in rules.items]",
        "np.arange(rules.count)",
        needs="concentrators.listed",
    ),
    Fault(
        "a unit starts if there is power for the smallest",
        "kernel/bank.py",
        "load_w + u.watts <= k.limit_w",
        "load_w + k.least_w <= k.limit_w",
        needs="concentrators.listed",
    ),
    Fault(
        "a unit draws no more as it starts",
        "kernel/bank.py",
        "load_w * 1_000 + u.surge_permille * u.watts <=",
        "load_w * 1_000 + 1_000 * u.watts <=",
        needs="concentrators.listed",
    ),
    Fault(
        "units go on through a change of supply",
        "kernel/supply.py",
        "_carry(k, chain.supply != before)",
        "_carry(k, False)",
        needs="concentrators.listed",
    ),
    Fault(
        "the smallest that fits is the least loaded",
        "kernel/bank.py",
        "    if first == _SMALLEST:\n",
        "    if False:\n",
        needs="concentrators.listed",
    ),
    Fault(
        "a unit that is not new begins as a new one",
        "kernel/ages.py",
        "if u.failed < lives.count_:",
        "if False:",
        needs="concentrators.listed",
    ),
    Fault(
        "a repair in the middle of a life begins the next",
        "kernel/ages.py",
        "u.lives_over += u.life_left_s == 0",
        "u.lives_over += 1",
        needs="concentrators.listed",
    ),
    Fault(
        "units that wait for a repair work at the start",
        "kernel/memory.py",
        "hospital.now is not None or np.arange(group.count) < group.working",
        "True",
        needs="concentrators.listed",
    ),
    Fault(
        "the load of a unit is that of the smallest",
        "kernel/bank.py",
        "        k.running_w += u.watts\n",
        "        k.running_w += k.least_w\n",
        needs="concentrators.listed",
    ),
    Fault(
        "who needs more than a small unit gives waits for the largest anywhere",
        "kernel/bank.py",
        "    if not k.mixed:\n",
        "    if True:\n",
        needs="concentrators.listed",
    ),
    Fault(
        "in part, half of the largest unit is asked of each",
        "kernel/reduced_flow.py",
        "max(1, min(p.flow_ml_min, u.rated_ml_min // 2))",
        "max(1, min(p.flow_ml_min, 5_000 // 2))",
        needs="concentrators.listed",
    ),
    Fault(
        "unlike units are gathered as if all gave the same",
        "kernel/supply.py",
        "load + flow_ml_min <= other.rated_ml_min",
        "load + flow_ml_min <= k.most_rated_ml_min",
        needs="power.battery.gather",
    ),
)
REFERENCE = (
    Fault(
        "a clock that goes on stands at its end after each repair",
        "steps/ages.py",
        "return unit.life_left_s or unit.lives[unit.lives_over]",
        "return unit.lives[unit.lives_over]",
        needs="concentrators.listed",
    ),
    Fault(
        "a unit that stops for another patient need not start again",
        "bank.py",
        "len(unit.patients) > 1 or self.can_start(unit, self.running_w - unit.watts)",
        "True",
        needs="concentrators.listed",
    ),
)
