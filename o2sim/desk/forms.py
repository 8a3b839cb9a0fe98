"""The questions as a form: what stands in each field, what is wrong with it, what goes into the file."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from starlette.datastructures import FormData

from o2sim.desk.desk import text_in
from o2sim.desk.history import Draft
from o2sim.desk.own_figures import OwnFigure, own_in, own_keys, own_names, question_of, strategy_of
from o2sim.desk.words import say, translated
from o2sim.errors import ScenarioError
from o2sim.scenario.changing.new_text import NewText, change
from o2sim.scenario.keys import answers_in_file, questions
from o2sim.scenario.keys.answers import MONTH, Answer, parse_answer, tried, wrong_together, yours
from o2sim.scenario.keys.answers import say as figure
from o2sim.scenario.keys.answers_in_file import read_answers
from o2sim.scenario.keys.questions import BY_NAME, MONTH_LABEL, MONTHS, PAGES, QUESTIONS, Question

OURS, USE, UNKNOWN = "ours", "use", "unknown"
FILE = "file"  # as in the file, which does not say whose figure it is
CHOICES = (OURS, USE, UNKNOWN, FILE)
CHOICE = ".choice"  # behind the name of a question, the name of its choice
LONGEST = 40  # letters of an answer
NAMES = (*BY_NAME, MONTH)
MONTH_BESIDE = "busiest"  # the question that the month stands beside
Answers = dict[str, Answer]


@dataclass(frozen=True)
class Asked:
    """A question as it stands on its page; other: line and form in the file, where no field has it.

    is_of_file: whether the file has a figure and does not say whose.
    own: what ways of supply have of their own, for which the figure of the whole does not hold.
    """

    question: Question
    usual: str
    source: str
    low: str
    high: str
    ends: str
    draft: Draft
    problem: str
    other: tuple[int, str] | None
    is_of_file: bool
    own: tuple[OwnFigure, ...]

    @property
    def name(self) -> str:
        """Return the name of its field."""
        return self.question.name


@dataclass(frozen=True)
class Row:
    """What a file says to a question, in words."""

    label: str
    found: bool
    said: str


@dataclass(frozen=True)
class Change:
    """A figure that differs from the file, in words before and after."""

    name: str
    label: str
    before: str
    after: str


def on_page(number: int) -> tuple[Question, ...]:
    """Return the questions of a page, counted from 1."""
    return questions.on_page(PAGES[number - 1])


def label_of(name: str) -> str:
    """Return what a field is called."""
    if strategy_of(name):
        return say("own_label", label=translated(question_of(name).label), strategy=strategy_of(name))
    return translated(MONTH_LABEL if name == MONTH else BY_NAME[name].label)


def is_asked(name: str) -> bool:
    """Return whether a name is that of a field of the questions."""
    return name in NAMES or bool(strategy_of(name))


# --- what is typed -----------------------------------------------------------------------------------------------


def draft_of(choice: str, typed: str) -> Draft:
    """Return what was typed and chosen, cut to what a field may hold."""
    return Draft(choice if choice in CHOICES else "", typed.strip()[:LONGEST])


def drafts_in(form: FormData, names: Iterable[str]) -> dict[str, Draft]:
    """Return what was typed and chosen, of the questions that the form has; also of one way of supply alone."""
    there = [name for name in (*names, *own_names(form)) if name in form]
    return {name: draft_of(text_in(form, f"{name}{CHOICE}"), text_in(form, name)) for name in there}


def names_on(number: int) -> list[str]:
    """Return the names of the fields of a page, but for those of one way of supply."""
    names = [each.name for each in on_page(number)]
    return [*names, MONTH] if MONTH_BESIDE in names else names


def problem_of(name: str, draft: Draft, *, empty_is_unknown: bool = False) -> str:
    """Return what is wrong with what was typed, "" for nothing."""
    if name == MONTH:
        return "" if draft.typed in ("", *MONTHS) else say("month_bad", found=draft.typed)
    if draft.choice in (USE, UNKNOWN):
        return ""
    if not draft.typed:
        return say("own_empty") if strategy_of(name) else "" if empty_is_unknown else say("empty")
    return parse_answer(question_of(name), draft.typed).problem


def answer_of(name: str, draft: Draft) -> Answer:
    """Return the answer that a draft is; an empty field is "I do not know"."""
    if name == MONTH:
        return Answer("ours", draft.typed) if draft.typed else Answer("missing")
    if draft.choice == USE:
        return Answer("usual")
    if draft.choice == UNKNOWN or not draft.typed:
        return Answer("unknown")
    return Answer("ours", draft.typed)


def answers_of(drafts: Mapping[str, Draft], there: Mapping[str, Answer]) -> Answers:
    """Return the answers of drafts beside those of a file; what is in another form there is not touched."""
    kept = {name: draft for name, draft in drafts.items() if there.get(name, Answer("missing")).whose != "other"}
    return {**there, **{name: answer_of(name, draft) for name, draft in kept.items()}}


def problems_of(
    drafts: Mapping[str, Draft], there: Mapping[str, Answer], *, empty_is_unknown: bool
) -> list[tuple[str, str, str]]:
    """Return what is wrong: the field, its label, what; each by itself, then beside the others."""
    own = {name: problem_of(name, draft, empty_is_unknown=empty_is_unknown) for name, draft in drafts.items()}
    wrong = {name: said for name, said in own.items() if said}
    if not wrong:
        wrong = wrong_together(answers_of(drafts, there))
    return [(name, label_of(name), said) for name, said in wrong.items()]


# --- what a page shows -------------------------------------------------------------------------------------------


def there_in(text: str | None) -> Answers:
    """Return what a file answers, as a whole and for each way of supply that has its own; nothing for none."""
    return {} if text is None else {**read_answers(text), **own_in(text)}


def asked(
    number: int, there: Mapping[str, Answer], drafts: Mapping[str, Draft], wrong: Mapping[str, str]
) -> list[Asked]:
    """Return the questions of a page: with what is typed, else with what the file says."""
    answers = answers_of({name: each for name, each in drafts.items() if not problem_of(name, each)}, there)
    own = {each.name: _own(each.name, there, drafts, wrong) for each in on_page(number)}
    return [_asked(each, answers, there.get(each.name), drafts, wrong, own[each.name]) for each in on_page(number)]


def _own(
    question: str, there: Mapping[str, Answer], drafts: Mapping[str, Draft], wrong: Mapping[str, str]
) -> tuple[OwnFigure, ...]:
    """Return the fields of ways of supply that have a figure of their own."""
    found = []
    for name in own_names(there, question):
        answer, typed = there[name], drafts.get(name, drafted(there[name])).typed
        other = (answer.line, answer.note) if answer.whose == "other" else None
        found.append(OwnFigure(name, strategy_of(name), drafted(answer).choice, typed, wrong.get(name, ""), other))
    return tuple(found)


def _asked(
    question: Question,
    answers: Mapping[str, Answer],
    there: Answer | None,
    drafts: Mapping[str, Draft],
    wrong: Mapping[str, str],
    own: tuple[OwnFigure, ...],
) -> Asked:
    low, usual, high = tried(question, answers)
    sources = {name: translated(each.source) for name, each in (("low", low), ("high", high))}
    ends = sources["low"] if low.source == high.source else say("two_ends", **sources)
    other = (there.line, there.note) if there is not None and there.whose == "other" else None
    draft = drafts.get(question.name, drafted(there))
    return Asked(
        _translated(question), figure(usual.figure), translated(usual.source), figure(low.figure),
        figure(high.figure), ends, draft, wrong.get(question.name, ""), other,
        there is not None and there.whose == "file", own,
    )  # fmt: skip


def _translated(question: Question) -> Question:
    label, hint, unit = map(translated, (question.label, question.hint, question.unit))
    return replace(question, label=label, hint=hint, unit=unit)


def drafted(there: Answer | None) -> Draft:
    """Return what stands in the field for what a file says."""
    if there is None or there.whose in ("missing", "other"):
        return Draft()
    if there.whose == "unknown":
        return Draft(UNKNOWN)
    if there.whose == "usual":
        return Draft(USE)
    return Draft(FILE if there.whose == "file" else OURS, there.text)


def month_of(there: Mapping[str, Answer], drafts: Mapping[str, Draft]) -> str:
    """Return the month that is chosen, "" for none."""
    return drafts[MONTH].typed if MONTH in drafts else there.get(MONTH, Answer("missing")).text


def said(name: str, answer: Answer | None) -> str:
    """Return an answer in words."""
    if answer is None or answer.whose == "missing":
        return say("missing")
    if answer.recorded:
        return translated(answer.note)
    if answer.whose == "other":
        return say("other_form", line=answer.line, what=answer.note)
    if name == MONTH:
        return translated(answer.text)
    if answer.whose == "unknown":
        return say("said_unknown")
    question = question_of(name)
    text = figure(question.usual.figure) if answer.whose == "usual" and not answer.text else answer.text
    return f"{text} {translated(question.unit_after(text))}"


def rows_of(text: str) -> list[Row]:
    """Return what a file answers to each question, in words."""
    found = read_answers(text)
    whole = [(label_of(each.name), found[each.name], said(each.name, found[each.name])) for each in QUESTIONS]
    return [Row(label, answer.whose not in ("missing", "other"), words) for label, answer, words in whole]


def whose(text: str) -> tuple[int, int]:
    """Return how many of the figures are the hospital's own, and of how many."""
    return yours(read_answers(text))


# --- what goes into the file -------------------------------------------------------------------------------------


def changes(text: str, drafts: Mapping[str, Draft]) -> list[Change]:
    """Return which figures differ from what a file says, in words."""
    return list(_changes(there_in(text), drafts))


def _changes(there: Answers, drafts: Mapping[str, Draft]) -> Iterator[Change]:
    for name, draft in drafts.items():
        before = there.get(name, Answer("missing"))
        if draft == Draft() or (name == MONTH and not draft.typed) or before.whose == "other":
            continue  # nothing was said, or the file says it in a form of its own
        if draft != drafted(before):
            yield Change(name, label_of(name), said(name, before), said(name, answer_of(name, draft)))


def put(
    text: str, drafts: Mapping[str, Draft], names: Iterable[str], today: dt.date, file: str, folder: Path
) -> NewText:
    """Return the text with the answers to some questions in it. Raises ScenarioError where it does not load."""
    own = own_keys({name: parse_answer(question_of(name), drafts[name].typed).value for name in own_names(names)})
    answers = {name: answer_of(name, drafts[name]) for name in names if name in NAMES}
    wanted = answers_in_file.changes(text, answers, today, file)
    values = {**{key: each.value for key, each in wanted.items()}, **own}
    notes = {key: each.note for key, each in wanted.items()}
    return change(text, values, today, notes=notes, file=file, folder=folder, stem=Path(file).stem)


def new_text(drafts: Mapping[str, Draft], today: dt.date) -> str:
    """Return the text of a new hospital with these answers, all else open or an example."""
    from o2sim.scenario.changing.first_scenario import scenario_from

    answers = {name: answer_of(name, drafts.get(name, Draft())) for name in BY_NAME}
    if MONTH in drafts and drafts[MONTH].typed:
        answers[MONTH] = answer_of(MONTH, drafts[MONTH])
    return scenario_from(answers, today)


def blamed(error: ScenarioError, number: int) -> list[tuple[str, str, str]]:
    """Return what is wrong with a file after a change, at the fields of a page where these can be named."""
    by_key = {key: each for each in on_page(number) for key in each.keys}
    found = []
    for problem in error.problems:
        question = next((each for key, each in by_key.items() if problem.field.startswith(key)), None)
        words = "; ".join(filter(None, (problem.found, problem.allowed and say("allowed", what=problem.allowed))))
        found.append((question.name, label_of(question.name), words) if question else ("", problem.field, words))
    return found
