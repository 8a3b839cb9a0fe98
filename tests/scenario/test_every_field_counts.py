"""Every value of every shipped scenario: changed alone, it changes some outcome or some cost."""

import io
import re
import shutil
from pathlib import Path

import pytest
from ruamel.yaml import YAML

from o2sim.draws import Draws
from o2sim.errors import ScenarioError
from o2sim.model.run import simulate
from o2sim.money.cost import annual_cost
from o2sim.scenario import load

QUICK = ("health_centre", "night_shift")  # the others take minutes
SCENARIOS = [
    pytest.param(path, id=path.stem, marks=[] if path.stem in QUICK else pytest.mark.slow)
    for path in sorted((Path(__file__).parents[2] / "scenarios").glob("*.yaml"))
]
ONLY_SHOWN = {"name", "about", "figures", "costs.currency"}  # shown to people, no part of any result
FOR_LISTS = {"size", "delivery"}  # of `o2sim equipment`; in the run only where the bedside limits what they need
WORDS = {
    "true": "false",
    "false": "true",
    "running": "calendar",
    "calendar": "running",
    "residual": "will_not_last",
    "will_not_last": "residual",
    "may": "september",
    "july": "january",
    "november": "april",
    "never": "900 h",
    "watched": "2 h",
    "most loaded": "lowest number",
    "bullnose": "pin-index",
    "pin-index": "bullnose",
    "face mask": "nasopharyngeal catheter",
    "nasal prongs": "nasopharyngeal catheter",
    "nasopharyngeal catheter": "face mask",
    "unlimited": "1",
    **dict.fromkeys(("mon", "tue", "wed", "thu", "fri"), "sat"),
    "saturday": "monday",
    "sunday": "tuesday",
    "own cylinders": "exchange",
    "least loaded": "lowest number",
    "battery low": "grid fails",
    "resample": "replay",
    "on board": "none",
    "staff": "operator",
    "children": "adults",
    "adults": "children",
    "none": {"chance": "50 %", "share": "50 %"},  # a part delivery that is switched off
}
FACTORS = (1.31, 0.6, 0.9, 2.5, 0.2, 12.0)  # tried in turn: some values bind in one direction only


def leaves(node, path=()):
    """Yield (path, text) for every scalar of a tree of mappings and lists; of an uncertain number the likely one.

    What its ends do is looked at in test_uncertain.py.
    """
    if isinstance(node, dict) and "likely" in node:
        yield (*path, "likely"), str(node["likely"])
    elif isinstance(node, dict | list):
        for key, child in node.items() if isinstance(node, dict) else enumerate(node):
            yield from leaves(child, (*path, key))
    else:
        yield path, str(node)


def changes(text):
    """Yield other values for a scalar: a number scaled, a date or time moved, a word swapped."""
    if text.lower() == "none":  # wards that share everything
        yield {"children": {"regulators": 3}}
    if text.lower() in WORDS:  # the YAML reader gives True for true
        yield WORDS[text.lower()]
        yield "any"  # of `never`, where it is said of reduced flow
    elif re.fullmatch(r"\d{4}-\d\d-\d\d", text):
        year, month, day = text.split("-")
        yield f"{year}-{month}-{(int(day) + 9) % 28 + 1:02}"
        yield f"{year}-{int(month) % 12 + 1:02}-{day}"
        yield f"{year}-{(int(month) - 2) % 12 + 1:02}-{day}"
        yield f"{int(year) - 1}-{month}-{day}"  # a book may have been begun earlier, but not later than its rows
    elif re.fullmatch(r"\d\d:\d\d", text):
        yield f"{text[:3]}{(int(text[3:]) + 37) % 60:02}"
    elif found := re.fullmatch(r"0( .*)", text):  # a share or a time of nought
        yield f"60{found[1]}"
    elif found := re.fullmatch(r"([0-9.]+)(.*)", text):
        for factor in FACTORS:
            value = float(found[1]) * factor
            yield (f"{value:.4g}" if "." in found[1] or found[2] else str(max(0, round(value)))) + found[2]
            if not found[2]:
                yield str(int(float(found[1])) + 1)


def with_value(tree, path, value):
    """Return the YAML text of a tree with one scalar replaced."""
    node = tree
    for key in path[:-1]:
        node = node[key]
    kept, node[path[-1]] = node[path[-1]], value
    out = io.StringIO()
    YAML().dump(tree, out)
    node[path[-1]] = kept
    return out.getvalue()


def results(scenario, replications):
    """Return every outcome and cost of every strategy, without the names."""
    found = []
    for name in scenario.strategies:
        hospital = scenario.hospitals[name]
        for k in replications:
            outcome = simulate(scenario, name, Draws(4, k))
            cost = annual_cost(hospital, outcome) if hospital.costs else {}
            found.append((outcome, outcome.daily.tobytes(), tuple(cost.items())))
    return found


def loads(text, folder):
    """Return the scenario of a text in a folder where the registers lie."""
    (folder / "changed.yaml").write_text(text, encoding="utf-8")
    return load(folder / "changed.yaml")


def counts(tree, path, text, before, folder):
    """Return True if some other value at a path changes a result: of the first year, or of one of the next six."""
    for batch in before:
        for value in changes(text):
            try:
                changed = loads(with_value(tree, path, value), folder)
            except ScenarioError:
                continue
            if results(changed, batch) != before[batch]:
                return True
    return False


@pytest.mark.parametrize("path", SCENARIOS)
def test_every_value_of_a_shipped_scenario_counts(path, tmp_path):
    """A value that nothing depends on is a key that is accepted and ignored."""
    for register in path.parent.glob("*.csv"):
        shutil.copy(register, tmp_path)
    yaml = YAML(typ="rt")
    yaml.preserve_quotes = True
    text = re.sub(r"(?m)(?<=[\[ ])(\d\d:\d\d)(?=[,\]}]|$)", r'"\1"', path.read_text(encoding="utf-8"))
    tree = yaml.load(text)
    scenario = loads(with_value(tree, ("about",), "as it is"), tmp_path)
    before = {batch: results(scenario, batch) for batch in (range(1), range(1, 7))}
    dead = [
        ".".join(map(str, where))
        for where, said in leaves(tree)
        if where[0] != "options"  # which are no strategies: tests/test_options.py
        and where[-1] != "file"
        and where[-2:] != ("register", "use")  # a book of 120 days cannot be used otherwise for a year
        and "sources" not in where
        and ".".join(map(str, where)) not in ONLY_SHOWN
        and not (where[-1] in FOR_LISTS and (where[-1] == "size" or "bedside" not in tree))
        if not counts(tree, where, said, before, tmp_path)
    ]
    assert dead == []
