"""The group that gathers the command of each question, and turns what they raise into an exit code."""

from __future__ import annotations

import errno
import os
import sys
from collections.abc import Callable
from typing import Any

import click

from o2sim.commands.options import FAILED, MISUSED, OK, STOPPED
from o2sim.errors import O2simError, ScenarioError
from o2sim.questions.bedside.command import cylinder
from o2sim.questions.check.command import check
from o2sim.questions.compare.command import compare, run
from o2sim.questions.demo.command import demo
from o2sim.questions.documents.command import describe, new, schema
from o2sim.questions.drivers.command import drivers
from o2sim.questions.equipment.command import equipment
from o2sim.questions.facilities.command import study
from o2sim.questions.report.command import report
from o2sim.questions.size.command import size
from o2sim.questions.store.command import runs
from o2sim.questions.trace.command import trace
from o2sim.questions.whatif.command import whatif
from o2sim.version import __version__

GROUPS: dict[str, tuple[click.Command, ...]] = {  # by what a person wants, in the order of use
    "Describe the hospital": (demo, new, check),
    "Decide": (compare, size, whatif, equipment, drivers),
    "Hand on": (report, describe, cylinder),
    "For analysts": (run, trace, study, runs, schema),
}
EPILOG = """Exit codes: 0 all went well; 1 o2sim could not finish (output not writable, a broken balance);
2 wrong usage or a problem in the scenario; 130 stopped by Ctrl-C, after reporting what was completed.

This plans supply and prescribes nothing: local codes, guidelines and licensed practice come first."""


class Program(click.Group):
    """A group of commands that turns every error into one message on stderr and its documented exit code."""

    def format_commands(self, _: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of commands, by what a person wants."""
        longest = max(len(name) for name in self.commands)
        for heading, commands in GROUPS.items():
            with formatter.section(heading):
                room = formatter.width - formatter.current_indent - longest - 2
                formatter.write_dl([
                    (str(each.name).ljust(longest), each.get_short_help_str(room)) for each in commands
                ])  # fmt: skip

    def main(self, *args: Any, **extra: Any) -> Any:
        """Run and leave with the exit code."""
        extra["standalone_mode"] = False
        run_commands: Callable[..., Any] = super().main
        for stream in (sys.stdout, sys.stderr):
            if hasattr(stream, "reconfigure"):
                stream.reconfigure(errors="replace")  # a terminal without the letters shows "?", not a traceback
        sys.exit(_exit_code(lambda: run_commands(*args, **extra)))


def _exit_code(command: Callable[[], Any]) -> int:
    try:
        code = command()
        sys.stdout.flush()
    except click.ClickException as error:
        error.show(sys.stderr)
        return error.exit_code
    except click.Abort:
        click.echo("Stopped.", err=True)
        return STOPPED
    except ScenarioError as error:
        click.echo(str(error), err=True)
        return MISUSED
    except O2simError as error:
        click.echo(f"Error: {error}", err=True)
        return FAILED
    except OSError as error:
        if error.errno == errno.EPIPE:  # the reader has left, which is no error; click ends quietly
            raise
        _drop_output()
        click.echo(f"Error: the output cannot be written ({error.strerror or error})", err=True)
        return FAILED
    return code if isinstance(code, int) else OK


def _drop_output() -> None:
    """Let what is still waiting for stdout go nowhere, so that Python does not try it again at the end."""
    try:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except (OSError, ValueError):  # not a stream of the system
        return


@click.group(cls=Program, epilog=EPILOG, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="o2sim")
def main() -> None:
    """Compare ways to supply a hospital with oxygen: how often someone goes without, why, and what it costs.

    FILE is a scenario in YAML. Start with `o2sim new FILE`, or with one of the hospitals that `o2sim demo FOLDER`
    writes, then `o2sim check FILE` and `o2sim compare FILE`.
    """


for _commands in GROUPS.values():
    for _command in _commands:
        main.add_command(_command)
