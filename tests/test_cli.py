"""The command line from outside: what it prints, where, and with which exit code."""

from __future__ import annotations

import csv
import errno
import io
import json
import os
import runpy
import subprocess
import sys

import pytest
from click.testing import CliRunner

import o2sim
from o2sim import cli
from o2sim.commands.reading import Quantity
from o2sim.looks import cautions, screen
from o2sim.looks.screen import WIDTH
from o2sim.model.run import ENGINES
from o2sim.runs import study as study_module
from o2sim.runs.settings import ENGINES as OFFERED

SCREEN = 40  # lines of a terminal
SCENARIO = """
name: Reed Bank health centre
about: a few beds on a poor grid
horizon: 28 days
warm_up: 7 days
patients:
  adults:
    admissions: 1 / day
    flow: 2 L/min
    duration: {exponential: {mean: 2 days}}
    recognised: 100 %
cylinders: {content: 6800 L, filling_pressure: 13.7 MPa, fleet: 6, regulators: 4}
resupply: {review: 7 days, reorder_point: 3, order_up_to: 6, lead_time: 3 days}
concentrators: {count: 2, rated_flow: 5 L/min, outlets: 2, power: 350 W}
power: {grid: {up: {exponential: {mean: 20 h}}, down: {exponential: {mean: 4 h}}}}
costs: {cylinders: {refill: 18 USD}}
strategies:
  cylinders only: {sources: [cylinder]}
  concentrators only: {sources: [concentrator]}
  mixed: {sources: [concentrator, cylinder]}
"""


@pytest.fixture
def scenario_file(tmp_path):
    """Write the scenario to a file and return its path."""
    path = tmp_path / "reed.yaml"
    path.write_text(SCENARIO, encoding="utf-8")
    return str(path)


def call(*args):
    """Run a command and return click's result; text on stdout and stderr apart."""
    return CliRunner().invoke(cli.main, [str(arg) for arg in args])


def test_help_names_the_commands_and_exit_codes():
    """The help says what there is and what each exit code means."""
    shown = call("--help")
    assert shown.exit_code == 0
    for word in ("check", "compare", "cylinder", "equipment", "run", "trace", "130 stopped"):
        assert word in " ".join(shown.stdout.split())


def test_help_lists_each_command_once_and_in_a_whole_sentence():
    """Four groups by what a person wants; no line is cut off."""
    lines = call("--help").stdout.splitlines()
    assert [heading for heading in cli.GROUPS if f"{heading}:" in lines] == list(cli.GROUPS)
    ends = next(place for place, line in enumerate(lines) if line.startswith("  Exit codes:"))
    listed = lines[lines.index("Describe the hospital:") : ends]
    named = [line.split()[0] for line in listed if line.startswith("  ")]
    assert sorted(named) == sorted(cli.main.commands)
    assert not any("..." in line for line in listed)


def test_version():
    """The version is the package's."""
    assert call("--version").stdout == f"o2sim, version {o2sim.__version__}\n"


def test_importing_the_command_line_loads_nothing_heavy():
    """Help stays quick: no NumPy, SciPy, pandas, matplotlib or pint is loaded for it."""
    heavy = ("numpy", "scipy", "pandas", "matplotlib", "pint", "rich")
    code = f"import sys, o2sim.cli; print([m for m in {heavy} if m in sys.modules])"
    shown = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert shown.stdout.strip() == "[]"


def test_engines_offered_are_those_there_are():
    """The list written out for a quick start is the model's own."""
    assert OFFERED == ENGINES


def test_python_m_o2sim_is_the_command_line(monkeypatch, capsys):
    """`python -m o2sim` does what `o2sim` does."""
    monkeypatch.setattr(sys, "argv", ["o2sim", "--version"])
    with pytest.raises(SystemExit) as left:
        runpy.run_module("o2sim", run_name="__main__")
    assert (left.value.code, capsys.readouterr().out) == (0, f"o2sim, version {o2sim.__version__}\n")


def test_output_that_is_no_terminal_stream(monkeypatch):
    """Where stdout is some other object, as in a notebook, commands still work."""
    monkeypatch.setattr(sys, "stdout", io.StringIO())
    with pytest.raises(SystemExit) as left:
        cli.main(["--version"], prog_name="o2sim")
    assert left.value.code == 0
    assert o2sim.__version__ in sys.stdout.getvalue()


def test_quantity_that_is_read_already():
    """A value that is a number in the internal unit already is left alone, as click asks of its types."""
    assert Quantity("flow").convert(5_000.0, None, None) == 5_000.0


def test_check_prints_the_figures(scenario_file):
    """A good file gives its need and supply on stdout, its doubtful points on stderr, and 0."""
    shown = call("check", scenario_file)
    assert shown.exit_code == 0
    assert "Reed Bank health centre: the file is in order." in shown.stdout
    assert "On average 2 patients are on oxygen at once and need 5,760 litres a day" in shown.stdout
    assert "days of cover, all full, mean need" in shown.stdout


def test_check_as_json(scenario_file):
    """With --json stdout is one object that holds the figures of each strategy."""
    told = json.loads(call("check", scenario_file, "--json").stdout)
    assert told["scenario"] == "Reed Bank health centre"
    assert told["strategies"]["mixed"]["mean"]["patients"] == pytest.approx(2.0)
    assert told["strategies"]["concentrators only"]["mean"]["cover_days"] is None


def test_doubtful_points_go_to_stderr(tmp_path):
    """A start without warm-up is legal but doubtful: it is stated on stderr, not among the results."""
    path = tmp_path / "doubt.yaml"
    text = SCENARIO.replace("warm_up: 7 days", "warm_up: 0 days").replace("about: a few beds on a poor grid", "")
    path.write_text(text, encoding="utf-8")
    shown = call("check", path)
    assert shown.exit_code == 0
    assert "Warning: " in shown.stderr
    assert "Warning: " not in shown.stdout


@pytest.mark.parametrize("command", [["check"], ["compare"], ["run", "--strategy", "mixed"]], ids=lambda c: c[0])
def test_all_problems_of_a_scenario_are_listed(tmp_path, command):
    """A file with three mistakes gets them all at once on stderr, with their lines, and exit code 2."""
    path = tmp_path / "bad.yaml"
    text = SCENARIO.replace("2 L/min", "2 kPa").replace("fleet: 6", "fleet: -6").replace("horizon", "horizzon")
    path.write_text(text, encoding="utf-8")
    shown = call(*command, path)
    assert shown.exit_code == 2
    assert shown.stdout == ""
    assert "3 problems in the scenario" in shown.stderr
    assert f"{path}:4:" in shown.stderr
    assert "Traceback" not in shown.stderr


def test_a_missing_file_is_a_problem_of_the_scenario():
    """A file that is not there gives exit code 2 and its name."""
    shown = call("check", "nowhere.yaml")
    assert shown.exit_code == 2
    assert "nowhere.yaml" in shown.stderr


def test_compare_as_json_holds_the_contract(scenario_file):
    """With --json stdout is one object with the keys that others rely on, and nothing else."""
    shown = call("compare", scenario_file, "--replications", 3, "--seed", 7, "--json")
    told = json.loads(shown.stdout)
    assert shown.exit_code == 0
    assert list(told["strategies"]) == ["cylinders only", "concentrators only", "mixed"]
    assert (told["seed"], told["replications"], told["engine"]) == (7, 3, "kernel")
    assert {"scenario", "scenario_hash", "version", "horizon_days", "differences"} <= set(told)


def test_compare_screen_fits_its_width(scenario_file):
    """The screen has the answer first, what was not compared, cautions and provenance, in 100 columns."""
    shown = call("compare", scenario_file, "--replications", 4)
    lines = shown.stdout.splitlines()
    assert max(map(len, lines)) <= WIDTH
    first = " ".join(lines[: lines.index("")])
    assert "any interruption in" in first
    assert "patient-hours a year unserved (" in first
    for part in ("To decide by", "Why someone went without", "What to do next:", "Prescribes nothing"):
        assert part in shown.stdout
    assert len(lines) <= SCREEN
    assert lines[-2].startswith(f"o2sim {o2sim.__version__} | scenario ")
    assert "seed 1 | 4 replications | engine kernel" in lines[-2]


def test_compare_in_full_has_every_figure(scenario_file):
    """With --full come all tables, what was not compared, and every caution."""
    shown = call("compare", scenario_file, "--replications", 4, "--full")
    assert max(map(len, shown.stdout.splitlines())) <= WIDTH
    said = " ".join(shown.stdout.split())
    for part in ("What happened", "Why someone went without", "Not compared:", *cautions.SHORT):
        assert part in said


def test_compare_of_chosen_strategies(scenario_file):
    """Only the strategies asked for are compared."""
    args = ["--strategy", "mixed", "--strategy", "cylinders only", "--replications", 2, "--json"]
    told = json.loads(call("compare", scenario_file, *args).stdout)
    assert list(told["strategies"]) == ["cylinders only", "mixed"]


def test_run_is_the_same_as_in_a_comparison(scenario_file):
    """One strategy run alone gives the numbers it has in the comparison."""
    alone = json.loads(call("run", scenario_file, "--strategy", "mixed", "--replications", 3, "--json").stdout)
    together = json.loads(call("compare", scenario_file, "--replications", 3, "--json").stdout)
    assert alone["strategies"]["mixed"] == together["strategies"]["mixed"]
    assert alone["differences"] == []


def test_unknown_strategy_is_a_usage_error(scenario_file):
    """A misspelt strategy gets the known ones and the nearest, and exit code 2."""
    shown = call("run", scenario_file, "--strategy", "mixd")
    assert shown.exit_code == 2
    assert "known: 'cylinders only', 'concentrators only', 'mixed'. Did you mean 'mixed'?" in shown.stderr
    far = call("run", scenario_file, "--strategy", "zzzz")
    assert "Did you mean" not in far.stderr


@pytest.mark.parametrize("option", [("--replications", "0"), ("--seed", "-1"), ("--engine", "warp")])
def test_options_out_of_range_are_usage_errors(scenario_file, option):
    """Options that cannot be are refused with exit code 2."""
    assert call("compare", scenario_file, *option).exit_code == 2


def test_out_writes_a_folder_of_results(scenario_file, tmp_path):
    """With --out the results are written, and stdout is as without it."""
    plain = call("compare", scenario_file, "--replications", 2, "--json")
    shown = call("compare", scenario_file, "--replications", 2, "--json", "--out", tmp_path / "out")
    manifest = json.loads((tmp_path / "out" / "manifest.json").read_text(encoding="utf-8"))
    assert shown.stdout == plain.stdout
    assert f"{len(manifest['files']) + 1} files written to" in shown.stderr
    assert manifest["scenario_file"] == scenario_file


def test_out_that_cannot_be_written_fails_before_the_work(scenario_file, tmp_path, monkeypatch):
    """A place that cannot be written gives exit code 1 and a message, before anything is simulated."""
    monkeypatch.setattr(study_module, "run_study", lambda *_, **__: pytest.fail("it ran"))
    (tmp_path / "taken").write_text("", encoding="utf-8")
    shown = call("compare", scenario_file, "--out", tmp_path / "taken")
    assert shown.exit_code == 1
    assert shown.stderr.startswith("Error: ")
    assert "taken: found a file; allowed: the name of a folder" in shown.stderr


def stop_after(count, monkeypatch):
    """Let Ctrl-C arrive after so many replications."""
    whole = study_module.run_replication
    done = []

    def stopping(*args):
        if len(done) == count:
            raise KeyboardInterrupt
        done.append(args)
        return whole(*args)

    monkeypatch.setattr(study_module, "run_replication", stopping)


def test_ctrl_c_reports_what_was_completed(scenario_file, monkeypatch):
    """Stopped after two of nine replications, those two are reported and the exit code is 130."""
    stop_after(2, monkeypatch)
    shown = call("compare", scenario_file, "--replications", 9, "--json")
    told = json.loads(shown.stdout)
    assert shown.exit_code == 130
    assert (told["replications"], told["replications_requested"], told["complete"]) == (2, 9, False)
    assert "Stopped after 2 of 9 replications; only those are reported." in shown.stderr


def test_ctrl_c_before_the_first_replication(scenario_file, monkeypatch):
    """Stopped before anything was completed there is nothing to report; the exit code is 130."""
    stop_after(0, monkeypatch)
    shown = call("compare", scenario_file, "--replications", 9)
    assert (shown.exit_code, shown.stdout) == (130, "")
    assert "Stopped." in shown.stderr


def test_ctrl_c_while_looking_for_the_worst(scenario_file, monkeypatch):
    """A search cut short follows the worst of those completed, and leaves with 130."""
    stop_after(2, monkeypatch)
    shown = call("trace", scenario_file, "--strategy", "mixed", "--worst", "--replications", 9)
    assert shown.exit_code == 130
    assert "Stopped after 2 of 9" in shown.stderr


def test_real_ctrl_c_in_a_process_of_its_own(scenario_file):
    """A signal in the third replication gives a report of two and exit code 130, with no traceback."""
    code = """
import os, signal, sys
from o2sim.runs import study
from o2sim.cli import main
signal.signal(signal.SIGINT, signal.default_int_handler)
whole = study.run_replication
def interrupted(scenario, names, seed, replication, engine):
    if replication == 2:
        os.kill(os.getpid(), signal.SIGINT)
    return whole(scenario, names, seed, replication, engine)
study.run_replication = interrupted
main(["compare", sys.argv[1], "--replications", "9", "--json"], prog_name="o2sim")
"""
    shown = subprocess.run([sys.executable, "-c", code, scenario_file], capture_output=True, text=True)
    assert shown.returncode == 130, shown.stderr
    assert json.loads(shown.stdout)["replications"] == 2
    assert "Traceback" not in shown.stderr


def test_a_reader_that_leaves_early_is_no_error(scenario_file):
    """Piping into a reader that closes the pipe ends without a traceback."""
    read, write = os.pipe()
    command = [sys.executable, "-m", "o2sim", "check", scenario_file]
    with subprocess.Popen(command, stdout=write, stderr=subprocess.PIPE, text=True) as process:
        os.close(write)
        os.close(read)
        _, stderr = process.communicate(timeout=60)
    assert "Traceback" not in stderr
    assert "BrokenPipe" not in stderr


def test_trace_tells_a_replication(scenario_file):
    """A trace ends with what it takes to see it again."""
    shown = call("trace", scenario_file, "--strategy", "concentrators only", "--replication", 1)
    assert shown.exit_code == 0
    assert shown.stdout.splitlines()[0].startswith(("Episode 1 of", "The 10 longest of"))
    assert "seed 1 | concentrators only, replication 1 | engine kernel" in shown.stdout


def test_trace_of_the_worst_is_the_trace_of_its_number(scenario_file):
    """--worst finds the replication that the study calls worst, and traces just that one."""
    scenario = o2sim.load(scenario_file)
    number = study_module.worst_replication(study_module.run_study(scenario, replications=6), "concentrators only")
    args = ["trace", scenario_file, "--strategy", "concentrators only"]
    worst = call(*args, "--worst", "--replications", 6)
    assert worst.stdout == call(*args, "--replication", number).stdout


def test_trace_as_json_and_csv_have_every_step(scenario_file, tmp_path):
    """JSON and CSV hold every step of the log, the same ones as --full prints."""
    args = ["trace", scenario_file, "--strategy", "mixed", "--replication", 0]
    told = json.loads(call(*args, "--json", "--csv", tmp_path / "steps.csv").stdout)
    with (tmp_path / "steps.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    full = call(*args, "--full").stdout.splitlines()
    assert len(told["steps"]) == len(rows) == len(full) - 2
    assert [row["text"] for row in rows] == [step["text"] for step in told["steps"]]


@pytest.mark.parametrize("options", [[], ["--worst", "--replication", "1"]], ids=["neither", "both"])
def test_trace_needs_one_way_to_choose(scenario_file, options):
    """Neither or both of --replication and --worst is a usage error."""
    shown = call("trace", scenario_file, "--strategy", "mixed", *options)
    assert shown.exit_code == 2
    assert "give either --replication K or --worst" in shown.stderr


def test_cylinder_against_a_handbook():
    """An E cylinder at 2,000 psi, 4 L/min, 200 psi left: 126 min (respiratory-care handbooks, from memory)."""
    shown = call("cylinder", "2000 psi", "--us-size", "e", "--flow", "4 L/min", "--residual", "200 psi")
    assert shown.exit_code == 0
    assert "At 4 L/min change it within 2 h 06 min" in shown.stdout


def test_cylinder_by_water_capacity_as_json():
    """47 L at 137 bar, 15 degC hold 146.24 L a litre (CoolProp's table), less the litre left at gauge zero."""
    shown = call("cylinder", "137 bar", "--water-capacity", "47 L", "--flow", "5 L/min", "--json")
    assert json.loads(shown.stdout)["content_l"] == pytest.approx(47 * (146.24 - 1.0), rel=0.005)


def test_cylinder_by_stated_content():
    """A gauge at the filling pressure means the stated content, whatever the water capacity."""
    args = ["--content", "6800 L", "--filling-pressure", "13.7 MPa", "--flow", "5 L/min", "--leak", "0.1 L/min"]
    assert call("cylinder", "13.7 MPa", *args).stdout.startswith("It holds 6,800 L")


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (["12,5 MPa", "--us-size", "E", "--flow", "5 L/min"], "write 12.5 MPa"),
        (["12 MPa", "--us-size", "E", "--flow", "5 kPa"], "this is a pressure"),
        (["12 MPa", "--us-size", "E", "--flow", "0 L/min"], "--flow must be more than 0"),
        (["12 MPa", "--flow", "5 L/min"], "one of --water-capacity (stamped on the shoulder), --content"),
        (["12 MPa", "--us-size", "E", "--content", "680 L", "--flow", "5 L/min"], "found 2 sizes"),
        (["120 MPa", "--us-size", "E", "--flow", "5 L/min"], "allowed: from 0 to 40000 kPa"),
    ],
    ids=["comma", "kind", "no flow", "no size", "two sizes", "too high"],
)
def test_cylinder_refuses_what_cannot_be(args, said):
    """Readings and sizes that make no sense are usage errors that say what is allowed."""
    shown = call("cylinder", *args)
    assert shown.exit_code == 2
    assert said in " ".join(shown.stderr.split())


def test_cylinder_answers_in_the_unit_of_the_reading():
    """A reading in psi gets pressures in psi, and a cylinder without flow is lost now."""
    shown = call("cylinder", "50 psi", "--us-size", "E", "--flow", "4 L/min").stdout
    assert "at or below 116 psi" in shown
    assert "flow is lost now, at 58 psi" in shown
    assert "at or below 800 kPa" in call("cylinder", "0", "--us-size", "E", "--flow", "4 L/min").stdout


@pytest.mark.parametrize("number", [10**9 + 1, 2**64], ids=["over", "wraps"])
def test_replications_beyond_counting_are_refused(scenario_file, number):
    """A number that would come round to replication 0 is refused with the range."""
    shown = call("trace", scenario_file, "--strategy", "mixed", "--replication", number)
    assert shown.exit_code == 2
    assert "0<=x<=1000000000" in shown.stderr


@pytest.mark.parametrize(
    "args",
    [
        ["compare", "--out", ""],
        ["trace", "--strategy", "mixed", "--replication", "0", "--csv", " "],
        ["describe", "--out", ""],
    ],
    ids=lambda args: args[0],
)
def test_an_empty_name_to_write_to_is_refused(scenario_file, args):
    """An empty name would be the folder one is in: it is refused instead."""
    shown = call(args[0], scenario_file, *args[1:])
    assert shown.exit_code == 2
    assert "the name is empty" in shown.stderr


def test_output_that_cannot_be_written_is_one_message(scenario_file, monkeypatch):
    """Where stdout cannot take the text, one line says so, with exit code 1 and no traceback."""

    def echo(text, err=False):
        if not err:
            raise OSError(errno.ENOSPC, "No space left on device")
        print(text, file=sys.stderr)

    monkeypatch.setattr(cli.click, "echo", echo)
    shown = call("trace", scenario_file, "--strategy", "mixed", "--replication", 0)
    assert shown.exit_code == 1
    assert shown.stderr == "Error: the output cannot be written (No space left on device)\n"


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="this system has no device that is always full")
def test_a_full_disk_in_a_process_of_its_own(scenario_file):
    """`o2sim compare FILE > /dev/full` ends with exit code 1 and one message, at its end as well."""
    command = [sys.executable, "-m", "o2sim", "compare", scenario_file, "--replications", "2"]
    with open("/dev/full", "w", encoding="utf-8") as full:
        shown = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, text=True)
    told = [line for line in shown.stderr.splitlines() if not line.startswith("Warning")]
    assert (shown.returncode, told) == (1, ["Error: the output cannot be written (No space left on device)"])


def test_an_error_of_o2sim_itself_is_told_without_traceback(scenario_file, monkeypatch):
    """A broken balance is one line on stderr and exit code 1."""

    def broken(*_, **__):
        raise o2sim.O2simError("the gas does not add up")

    monkeypatch.setattr(study_module, "run_study", broken)
    shown = call("compare", scenario_file)
    assert (shown.exit_code, shown.stderr) == (1, "Error: the gas does not add up\n")


def test_text_that_looks_like_markup_is_shown_as_it_is(tmp_path):
    """A name in square brackets is neither colour nor an error."""
    path = tmp_path / "odd.yaml"
    path.write_text(SCENARIO.replace("Reed Bank health centre", "'[red]Reed[/blue] :smile:'"), encoding="utf-8")
    assert "[red]Reed[/blue] :smile:: the file is in order." in call("check", path).stdout


def test_progress_bar_shows_only_on_a_terminal(monkeypatch, capsys):
    """After its delay the bar appears on a terminal's stderr, and never elsewhere."""
    monkeypatch.setattr(screen, "BAR_AFTER_S", -1.0)
    with screen.progress_bar(10) as progress:
        progress(5)
    assert capsys.readouterr().err == ""
    monkeypatch.setenv("FORCE_COLOR", "1")
    monkeypatch.setenv("TERM", "xterm")
    with screen.progress_bar(10) as progress:
        progress(5)
    shown = capsys.readouterr()
    assert "5/10" in shown.err
    assert shown.out == ""
