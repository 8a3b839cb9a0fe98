"""Results on the terminal, through rich; everything can be read without colour, in 100 columns."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager

from rich import box
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn
from rich.table import Table as RichTable
from rich.text import Text

from o2sim.errors import plain
from o2sim.looks.blocks import Block, Code, Figures, Lines, Points, Strong, Table
from o2sim.scenario.types.hospital import Scenario
from o2sim.version import __version__

WIDTH = 100
BAR_AFTER_S = 1.0
PROSE = 30  # characters: a longer cell is a sentence, not a figure
LEAST_PROSE = 20  # characters: a sentence is not squeezed into less
LEAST = 24  # characters: a longer word in a cell, such as an interval of millions, may be broken
LEAST_HEAD = 16  # characters: a longer word in a name may be broken
GAP = 2  # characters between columns


class Screen:
    """Standard output as text blocks and tables; text is shown as it is, never as markup."""

    def __init__(self) -> None:
        """Open standard output, at most WIDTH columns of it."""
        self.console = Console(markup=False, highlight=False, emoji=False)
        self.console.width = min(self.console.width, WIDTH) if self.console.is_terminal else WIDTH

    def show(self, blocks: Iterable[Block]) -> None:
        """Print blocks one after another; of a drawing what it shows in words."""
        for block in blocks:
            if isinstance(block, Table):
                self.tables([block])
            elif isinstance(block, Points):
                self.paragraph(block.heading, *(f"  - {text}" for text in block.texts))
            elif isinstance(block, Lines):
                self.paragraph(*block.texts)
            elif isinstance(block, Figures):
                self.paragraph(*(f"  - {figure} {what} ({sure})" for figure, what, sure in block.shown))
            elif isinstance(block, Code | Strong):
                self.paragraph(block.text)
            else:
                self.paragraph(block if isinstance(block, str) else block.alt)

    def paragraph(self, *lines: str) -> None:
        """Print the lines that are not empty, then an empty one; nothing if all are empty."""
        said = [plain(line, keep="\n") for line in lines if line]
        for line in said:
            self.console.print(line)
        if said:
            self.console.print()

    def next(self, steps: Sequence[str]) -> None:
        """Print what to do next, nothing where there is nothing to do.

        Lines of a step after its first are printed as they are, never broken, so that they can be copied.
        """
        if not steps:
            return
        self.console.print("What to do next:")
        for step in steps:
            said, *to_copy = plain(step, keep="\n").split("\n")
            self.console.print(f"  - {said}")
            for line in to_copy:
                self.console.print(line, soft_wrap=True)
        self.console.print()

    def tables(self, shown: Iterable[Table]) -> None:
        """Print tables with their notes; the looks are set here and nowhere else."""
        for table in shown:
            self.console.print(_rich_table(table, self.console.width))
            if table.note:
                self.console.print(table.note)
            self.console.print()


def provenance(scenario: Scenario, seed: int, what: str, engine: str) -> str:
    """Return the line that says how to get the same result again."""
    return f"o2sim {__version__} | scenario {scenario.hash} | seed {seed} | {what} | engine {engine}"


@contextmanager
def progress_bar(total: int, what: str = "replications") -> Iterator[Callable[..., None]]:
    """Give a function to call with the number done (and of how many); on stderr a bar appears after a second."""
    console = Console(stderr=True)
    columns = (TextColumn(what), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    bar = Progress(*columns, console=console, transient=True)
    task = bar.add_task(what, total=total)
    began_s = time.monotonic()

    def progress(done: int, of: int | None = None) -> None:
        bar.update(task, completed=done, total=of)
        if console.is_terminal and time.monotonic() - began_s > BAR_AFTER_S:
            bar.start()  # again and again does no harm

    try:
        yield progress
    finally:
        if bar.live.is_started:
            bar.stop()


@contextmanager
def waiting(text: str) -> Iterator[None]:
    """Show that something goes on: turning on a terminal's stderr, else one line."""
    console = Console(stderr=True)
    if console.is_terminal:
        with console.status(text):
            yield
    else:
        console.print(f"{text}...", highlight=False)
        yield


def _rich_table(table: Table, width: int) -> RichTable:
    """Return the table to print; words are broken only where one alone is wider than its column can be."""
    shown = RichTable(
        box=box.SIMPLE_HEAD, header_style="bold", show_edge=False, pad_edge=False, collapse_padding=True
    )
    heading, *others = table.columns
    cells = [[row[place] for row in table.rows] for place in range(len(table.columns))]
    room = width - GAP * len(others)
    natural = [max(_widest(cells[place]), _word(column)) for place, column in enumerate(table.columns) if place]
    if _widest(cells[0]) < len(heading) > room - sum(natural):  # it would take the room of the figures
        shown.title, shown.title_justify, shown.title_style = Text(heading), "left", "bold"
        heading = ""
    columns = [heading, *others]
    for column, inside, kept in zip(columns, cells, _widths(columns, cells, room), strict=True):
        prose = inside is cells[0] or _is_prose(inside)
        shown.add_column(Text(column), justify="left" if prose else "right", overflow="fold", width=kept)
    for place, row in enumerate(table.rows):
        shown.add_row(
            *(Text(plain(cell, keep="\n")) for cell in row), style="dim" if place in table.grey else None
        )
    return shown


def _widths(columns: Sequence[str], cells: Sequence[Sequence[str]], room: int) -> list[int]:
    """Return how wide each column is printed: as wide as it likes, else narrower, in whole words if it can be."""
    liked, least = [], []
    for place, (column, inside) in enumerate(zip(columns, cells, strict=True)):
        wide = max(_widest([column]), _widest(inside)) if place == 0 else max(_word(column), _widest(inside))
        short = max(min(LEAST_HEAD, _word(column)), min(LEAST, max(map(_word, inside), default=0)))
        liked.append(max(wide, min(len(column), wide + 6), 1))
        least.append(max(1, min(wide, max(short, LEAST_PROSE if _is_prose(inside) else 0))))
    if liked[0] + sum(least[1:]) <= room:
        least[0] = liked[0]  # what a row is about stays in one line
    while sum(liked) > room and max(liked) > 1:
        slack = [wide - short for wide, short in zip(liked, least, strict=True)]
        which = slack.index(max(slack)) if max(slack) > 0 else liked.index(max(liked))
        liked[which] -= 1
    return liked


def _is_prose(texts: Iterable[str]) -> bool:
    """Return True where any line is a sentence, longer than PROSE and mostly of letters."""
    lines = (line for text in texts for line in text.splitlines())
    return any(len(line) > PROSE and 2 * sum(map(str.isalpha, line)) > len(line) for line in lines)


def _word(text: str) -> int:
    """Return the letters of the longest word."""
    return max(map(len, text.split()), default=0)


def _widest(texts: Iterable[str]) -> int:
    """Return the letters of the longest line."""
    return max((len(line) for text in texts for line in text.splitlines()), default=0)
