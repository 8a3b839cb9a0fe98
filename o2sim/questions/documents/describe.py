"""The validation document of a scenario (Markdown): its model and its assumptions, for a reviewer.

The order of its parts is that of the STRESS-DES checklist (T. Monks et al., Strengthening the reporting of
empirical simulation studies: introducing the STRESS guidelines, Journal of Simulation 13 (2019) 55-67; the order
from memory). Rules, events, draws and keys come from the code, never typed here.
"""

from __future__ import annotations

import inspect
import shlex
from collections import Counter
from collections.abc import Iterable, Iterator
from itertools import chain
from pathlib import Path

from o2sim.draws import philox, sample
from o2sim.looks import cautions, doubt, words
from o2sim.looks.assumptions import Assumption, assumptions, changes
from o2sim.looks.markdown import bullets, escape, heading, numbered, prose, table
from o2sim.measures import measures
from o2sim.model import reference, rules
from o2sim.model.state import State
from o2sim.model.steps import allocation, days
from o2sim.money import cost
from o2sim.planning import figures as planning
from o2sim.quantities import gas
from o2sim.quantities.units import format_duration
from o2sim.questions.check import rules_in_words as field
from o2sim.questions.check import text as planner
from o2sim.questions.documents import model_text, notes_text
from o2sim.questions.documents.settings import DescribeSettings
from o2sim.scenario import warnings
from o2sim.scenario.checks.of_count import accounted
from o2sim.scenario.text.source import Source
from o2sim.scenario.types.hospital import Cylinders, Hospital, Scenario
from o2sim.settings import takes

INTRODUCTION = (
    "This document says what the simulation assumes and how it works, for anyone who is to judge whether its "
    "answers can be trusted. It is written by `o2sim describe` from the scenario and from the code of the model; "
    "its parts follow the STRESS-DES checklist (Monks and others, Journal of Simulation 13, 2019)."
)
ORIGINS = (
    "Where a value comes from is what its author wrote beside it in the file; a default says whose convention it "
    "is. A value *stated, without a source* is an assumption that someone should stand behind."
)
BESIDE_THE_RANKS = "Events without a rank of their own"  # a section of the notes on the model
ENTITIES, PRICES = "patients", "costs"  # parts of a scenario; all others are resources and their rules
FROM_COUNT = "what nobody counted is drawn."
SWITCHED_OFF = "A rule whose keys the scenario leaves out is switched off; it stands here all the same."


@takes(DescribeSettings)
def document(scenario: Scenario, source: Source, *, settings: DescribeSettings) -> str:
    """Return the whole document; replications, seed and engine are those the study is to be run with."""
    first = next(iter(scenario.hospitals.values()))
    parts = [
        _front(scenario, source),
        _objectives(scenario, first),
        _logic(),
        _strategies(scenario, source),
        _components(scenario, source),
        _data(scenario, source),
        _experimentation(scenario, first, settings.replications),
        _implementation(scenario, settings),
    ]
    return "\n\n".join(block for part in parts for block in part) + "\n"


def _front(scenario: Scenario, source: Source) -> Iterator[str]:
    yield heading(1, f"{escape(scenario.name)}: the simulation and its assumptions")
    yield prose(INTRODUCTION)
    yield f"Scenario file: {escape(Path(scenario.file).name)}, content {scenario.hash}."
    yield prose(cautions.whose_figures(scenario.figures))
    if source.head:
        yield f"Its author says: {escape(' '.join(source.head))}"


def _objectives(scenario: Scenario, hospital: Hospital) -> Iterator[str]:
    yield heading(2, "1 Objectives")
    yield heading(3, "1.1 Purpose")
    yield prose(
        "To compare ways to supply this facility with oxygen: how often someone who needs oxygen goes without, "
        "why, and what it costs."
    )
    if scenario.about:
        yield f"The facility: {escape(scenario.about)}"
    yield heading(3, "1.2 Outputs")
    yield prose(words.stock_out_note(hospital))
    yield bullets(f"*{escape(name)}*: {escape(said)}" for name, said in model_text.measures(scenario))
    yield from _notes(notes_text.MEASURES)
    yield prose("Every second in which a patient in need gets nothing has one cause, of supply or of handling:")
    yield bullets(f"{escape(cause)} ({kind})" for cause, kind in model_text.causes())
    yield heading(3, "1.3 Aims of the experiments")
    yield f"The strategies compared: {', '.join(map(escape, scenario.strategies))}."


def _logic() -> Iterator[str]:
    yield heading(2, "2 Logic")
    yield heading(3, "2.1 Overview")
    parts = (said.partition(":") for said, _ in model_text.rule_parts())
    yield table(["part of the model", "what it does"], ((prose(name), prose(rest)) for name, _, rest in parts))
    yield heading(3, "2.2 The order of events")
    yield from map(prose, model_text.paragraphs(reference)[:2])
    yield from map(prose, model_text.paragraphs(rules.Rank))
    yield numbered(
        escape(event) + (f": {prose(remark)}" if remark else "") for event, remark in model_text.order_of_events()
    )
    yield from _notes(notes_text.MODEL, BESIDE_THE_RANKS)


def _strategies(scenario: Scenario, source: Source) -> Iterator[str]:
    yield heading(3, "2.3 The strategies")
    stated = changes(source)
    for name, hospital in scenario.hospitals.items():
        yield heading(4, escape(name))
        yield f"Sources, in this order: {escape(', then '.join(hospital.strategy.sources))}."
        if name in stated:
            yield _table(stated[name], cut=f"strategies.{name}.")
        yield "Everything else is as in the scenario."


def _components(scenario: Scenario, source: Source) -> Iterator[str]:
    yield heading(3, "2.4 The rules, step by step")
    yield SWITCHED_OFF
    yield from _notes(notes_text.RULES)
    for said, functions in model_text.rule_parts():
        yield heading(4, prose(said))
        yield bullets(f"*{escape(name)}*: {prose(text)}" for name, text in functions)
    parts = assumptions(source)
    yield heading(3, "2.5 Components")
    yield prose(ORIGINS).replace("\\*", "*")
    yield heading(4, "2.5.1 Entities: the patients")
    yield _table(parts[ENTITIES])
    yield heading(4, "2.5.2 Activities")
    yield table(["step", "what happens"], (map(escape, row) for row in model_text.step_texts()))
    yield heading(4, "2.5.3 Resources and their rules")
    for part, rows in parts.items():
        if part not in ("", ENTITIES, PRICES):
            yield heading(5, escape(part))
            yield _table(rows)
    yield heading(4, "2.5.4 Queues")
    yield prose(model_text.paragraphs(allocation.settle)[0])
    yield "The whole order of an instant stands under 2.4, At every instant."
    yield "Priorities (a modelling order, not triage):"
    yield bullets(_queue(hospital, name) for name, hospital in scenario.hospitals.items())
    yield heading(4, "2.5.5 Entry and exit")
    yield bullets(
        f"*{escape(step)}*: {escape(said)}"
        for step, said in model_text.step_texts(patients_only=True)
        if step.startswith("patient ")
    )


def _queue(hospital: Hospital, name: str) -> str:
    places = (
        f"{escape(kind.name)} {kind.priority} (unserved on arrival: {kind.if_unserved})"
        for kind in sorted(hospital.patients, key=lambda kind: kind.priority)
    )
    return f"{escape(name)}: {', '.join(places)}"


def _data(scenario: Scenario, source: Source) -> Iterator[str]:
    yield heading(2, "3 Data")
    yield heading(3, "3.1 Sources")
    parts = assumptions(source)
    stated = chain(*parts.values(), *changes(source).values())
    counts = Counter(row.origin for row in stated if row.origin).most_common()
    yield table(["source", "keys that rest on it"], ([escape(origin), str(count)] for origin, count in counts))
    yield heading(3, "3.2 Preparation")
    yield "Quantities are read with their units; every balance is kept exactly."
    yield from _notes(notes_text.QUANTITIES)
    yield from map(prose, model_text.paragraphs(gas)[1:])
    yield bullets(_contents(each, name) for name, each in scenario.hospitals.items())
    yield heading(3, "3.3 Input parameters that stand alone, and prices")
    yield _table([*parts[""], *parts.get(PRICES, [])])
    yield "All others stand under 2.3 and 2.5."
    yield from map(prose, model_text.paragraphs(cost.annual_cost)[1:])
    yield "The equivalent annual cost of what is bought:"
    yield prose(model_text.paragraphs(cost.equivalent_annual_cost)[1])
    yield from _notes(notes_text.MONEY)
    if scenario.uncertain:
        yield prose(doubt.likely_note(scenario))
        yield table(doubt.UNCERTAIN_HEADS, (map(escape, row) for row in doubt.uncertain_rows(scenario)))
    yield heading(3, "3.4 What the assumptions amount to")
    figures = {name: planning.planning_figures(hospital) for name, hospital in scenario.hospitals.items()}
    yield bullets(escape(said) for said in planner.sentences(figures) if said)
    yield prose(planner.SUPPLY_NOTE)
    switched_on = field.sentences(scenario)
    if switched_on:
        yield "Rules that are switched on, as `o2sim check` says:"
        yield bullets(map(escape, switched_on))
    doubts = [str(doubt) for doubt in warnings(scenario)]
    if doubts:
        yield "Doubtful, as `o2sim check` says:"
        yield bullets(map(escape, doubts))
    yield escape(cautions.NOT_COMPARED)


def _experimentation(scenario: Scenario, hospital: Hospital, replications: int) -> Iterator[str]:
    yield heading(2, "4 Experimentation")
    yield heading(3, "4.1 Initial conditions and warm-up")
    yield from map(prose, model_text.paragraphs(State.__init__))
    yield bullets(_start(each, name) for name, each in scenario.hospitals.items())
    warm_up = format_duration(hospital.warm_up_s) if hospital.warm_up_s > 0 else "none"
    if hospital.now is not None:
        yield f"The run begins from what was counted on {hospital.now.counted:%Y-%m-%d at %H:%M}: {FROM_COUNT}"
    yield f"Warm-up, run before the horizon and not counted: {warm_up}. What of it is remembered stands under 2.4."
    yield heading(3, "4.2 Run length")
    begins = "midnight" if hospital.now is None else f"{hospital.now.counted:%H:%M}"
    yield f"The horizon is {format_duration(hospital.horizon_s)} from {hospital.start.isoformat()}, {begins}."
    yield from map(prose, [text for _, text in model_text.functions(days)])
    yield from map(prose, model_text.paragraphs(reference.run_reference)[1:])
    yield heading(3, "4.3 Estimation")
    yield f"{replications:,} replications of each strategy, a number fixed beforehand."
    yield f"The intervals are 95 % ones: {doubt.CHANCE_ONLY}."
    lead, *kinds = (inspect.getdoc(measures) or "").split("\n- ")
    yield from map(prose, lead.split("\n\n")[1:])
    yield bullets(map(prose, kinds))


def _start(hospital: Hospital, name: str) -> str:
    if hospital.cylinders is None:
        return f"{escape(name)}: no cylinders"
    if hospital.now is not None and hospital.now.cylinders is not None:
        counted, fleet = accounted(hospital)
        return f"{escape(name)}: {hospital.now.cylinders.full} full, {counted} of {fleet} cylinders counted"
    each = [f"{size.full_at_start} of {size.fleet} {size.name} cylinders".replace("  ", " ")
            for size in hospital.cylinders.each]  # fmt: skip
    full = f"{escape(name)}: {escape(words.joined(each))} full"
    return full if hospital.manifold is None else f"{full}, banks and reserve of the manifold filled from these"


def _implementation(scenario: Scenario, settings: DescribeSettings) -> Iterator[str]:
    yield heading(2, "5 Implementation")
    yield heading(3, "5.1 Software")
    yield table(["software", "version"], (map(escape, row) for row in model_text.software(settings.engine)))
    yield heading(3, "5.2 Random numbers")
    together = "All strategies meet the same patients, power cuts and roads (common random numbers)."
    yield f"Seed {settings.seed}. {together}"
    yield from map(prose, model_text.paragraphs(philox))
    yield from map(prose, model_text.paragraphs(sample)[1:])
    yield from _notes(notes_text.DRAWS)
    yield heading(3, "5.3 Checks in every replication")
    yield bullets(map(prose, model_text.balance_texts()))
    yield heading(2, "6 How to run it again")
    name = shlex.quote(" ".join(Path(scenario.file).name.split()))
    how = f"--replications {settings.replications} --seed {settings.seed} --engine {settings.engine}"
    yield f"    o2sim compare {name} {how}"
    yield "o2sim is under the MIT licence; its source is the statement of the rules."
    yield heading(2, "Cautions")
    for title, points in cautions.LONG.items():
        yield heading(3, escape(title))
        yield bullets(map(escape, points))


def _notes(package: str, *titles: str) -> Iterator[str]:
    """Yield the sections of a folder's note, or those with these titles."""
    for title, blocks in notes_text.sections(package).items():
        if title and (title in titles or not titles):
            yield heading(4, escape(title))
            yield from blocks


def _contents(hospital: Hospital, name: str) -> str:
    """Return what a cylinder of a strategy holds, as the model counts it."""
    cylinders = hospital.cylinders
    if cylinders is None:
        return f"{escape(name)}: no cylinders"
    held = [
        f"a {escape(size.name)} cylinder holds".replace("  ", " ") + f" {_held(size)}" for size in cylinders.each
    ]
    return f"{escape(name)}: {'; '.join(held)}"


def _held(size: Cylinders) -> str:
    counts = (
        ("full", size.full_gas),
        ("at the residual pressure", size.residual_gas),
        ("where flow is lost", size.lost_gas),
    )
    return ", ".join(f"{each / gas.GAS_PER_LITRE:,.2f} L {when} ({each:,} of 1/60 mL)" for when, each in counts)


def _table(rows: Iterable[Assumption], cut: str = "") -> str:
    """Return assumptions as a table, the beginning of their paths left off."""
    return table(
        ["key", "value", "where it comes from", "what it means"],
        ((*map(escape, (row.path.removeprefix(cut), row.value, row.origin)), prose(row.meaning)) for row in rows),
    )
