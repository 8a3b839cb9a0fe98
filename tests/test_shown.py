"""How results reach their looks: makers register by type, and are there in whatever process shows a result."""

import pickle
import subprocess
import sys
from functools import cache

import pytest
from small_ward import WARD

import o2sim
from o2sim import shown, wiring
from o2sim.errors import O2simError

SHOW = """
import pickle, sys
study = pickle.loads(sys.stdin.buffer.read())
print(len(study._repr_html_()), study.to_frame().shape, study.chart().title)
"""


@cache
def _study():
    return o2sim.run_study(o2sim.loads(WARD), replications=2)


def _kinds():
    """Every kind of result there is, with all that shows it loaded."""
    for look in ("html", "chart", "frame", "sheets"):
        wiring.load(look)
    return sorted(shown.Shown.__subclasses__(), key=lambda kind: kind.__name__)


@pytest.mark.parametrize(
    ("look", "method"),
    [("html", "_repr_html_"), ("frame", "to_frame"), ("chart", "chart"), ("sheets", "write_sheets")],
)
def test_each_kind_of_result_has_a_maker_for_what_it_offers(look, method):
    """A result that can be asked for a look has one registered for it."""
    makers = getattr(shown, look)
    lacking = [
        kind.__name__
        for kind in _kinds()
        if hasattr(kind, method) and makers.dispatch(kind) is makers.dispatch(object)
    ]
    assert lacking == []


def test_a_result_from_another_process_shows_itself():
    """A result that was pickled shows itself in a process that has loaded nothing else of o2sim."""
    study = _study()
    found = subprocess.run(
        [sys.executable, "-c", SHOW], input=pickle.dumps(study), capture_output=True, check=True
    )
    expected = f"{len(study._repr_html_())} {study.to_frame().shape} {study.chart().title}"
    assert found.stdout.decode().strip() == expected


def test_a_look_is_loaded_when_it_is_asked_for():
    """A run loads no report, its frame no chart: who computes pays for no looks."""
    code = (
        "import sys, o2sim\n"
        "watched = 'pandas', 'matplotlib', 'o2sim.questions.compare.shown'\n"
        "loaded = lambda: [name for name in watched if name in sys.modules]\n"
        f"study = o2sim.run_study(o2sim.loads({WARD!r}), replications=1)\n"
        "print(loaded())\n"
        "study.to_frame()\n"
        "print(loaded())\n"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.splitlines() == ["[]", "['pandas', 'o2sim.questions.compare.shown']"]


@pytest.mark.parametrize("look", [shown.chart_of, shown.frame_of, lambda result: shown.sheets_of(result, None)])
def test_what_is_no_result_has_no_chart_frame_or_sheets(look):
    """Anything else is refused by its type."""
    with pytest.raises(O2simError, match="found int; allowed: a result of o2sim"):
        look(3)
