"""The group that gathers the command of each question, and turns what they raise into an exit code."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import Any

import click

from o2sim.commands.options import FAILED, MISUSED, OK, STOPPED
from o2sim.commands.streams import outlets
from o2sim.desk.command import desk
from o2sim.errors import O2simError, ScenarioError, plain
from o2sim.questions.bedside.command import cylinder
from o2sim.questions.check.command import check
from o2sim.questions.compare.command import compare, run
from o2sim.questions.demo.command import demo
from o2sim.questions.documents.command import describe, new, schema
from o2sim.questions.drivers.command import drivers
from o2sim.questions.equipment.command import equipment
from o2sim.questions.facilities.command import study
from o2sim.questions.fit.command import fit
from o2sim.questions.hindcast.command import hindcast
from o2sim.questions.records.command import records
from o2sim.questions.report.command import report
from o2sim.questions.size.command import size
from o2sim.questions.store.command import runs
from o2sim.questions.today.command import today
from o2sim.questions.trace.command import trace
from o2sim.questions.whatif.command import whatif
from o2sim.records.findings import RecordsError
from o2sim.version import __version__

LINES = "\n"  # messages have several
GROUPS: dict[str, tuple[click.Command, ...]] = {  # by what a person wants, in the order of use
    "Describe the hospital": (desk, demo, new, check, records, fit, hindcast),
    "Decide": (today, compare, size, whatif, equipment, drivers),
    "Hand on": (report, describe, cylinder),
    "For analysts": (run, trace, study, runs, schema),
}
EPILOG = """Exit codes: 0 all went well; 1 o2sim could not finish (output not writable, a broken balance);
2 wrong usage, or a problem in the scenario or the records; 130 stopped by Ctrl-C, after reporting what was
completed.

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
        with outlets() as (out, err):
            code = _exit_code(lambda: run_commands(*args, **extra))
            out.flush()
            if out.failure:
                click.echo(f"Error: the output cannot be written ({out.failure})", err=True)
                code = code or FAILED
            err.flush()
        sys.exit(code)


def _exit_code(command: Callable[[], Any]) -> int:
    try:
        code = command()
    except click.ClickException as error:
        error.message = plain(error.message, keep=LINES)  # type: ignore[misc]
        error.show(sys.stderr)
        return error.exit_code
    except (click.Abort, KeyboardInterrupt):
        click.echo("Stopped.", err=True)
        return STOPPED
    except (ScenarioError, RecordsError) as error:
        click.echo(plain(str(error), keep=LINES), err=True)
        return MISUSED
    except O2simError as error:
        click.echo(f"Error: {plain(str(error), keep=LINES)}", err=True)
        return FAILED
    except OSError as error:  # a place that went away meanwhile
        where = "the output cannot be written"
        if error.filename is not None:
            where = plain(f"{error.filename}: cannot be read or written")
        click.echo(f"Error: {where} ({error.strerror or error})", err=True)
        return FAILED
    return code if isinstance(code, int) else OK


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
