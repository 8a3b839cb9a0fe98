"""All words of a run, its answer, what would change it, and worse power."""

from __future__ import annotations

from o2sim.desk.words.counted import Counted

WORDS: dict[str, str | Counted] = {
    # run
    "run_ready": "Getting ready",
    "run_ready_said": "Once after installation, a minute or two. You may go on answering questions meanwhile.",
    "run_waiting": "Waiting",
    "run_waiting_said": "It begins as soon as the computer is free for it.",
    "run_running": "Working it out",
    "run_running_said": (
        "{of} years like the one you describe are simulated, each with its own patients, power cuts and roads."
    ),
    "run_running_other": "Each step meets the same patients, power cuts and roads.",
    "run_stopping": "Stopping",
    "run_stopped": "Stopped",
    "run_stopped_said": "What was finished is kept. Go on takes it up where it was.",
    "run_failed": "Could not be worked out",
    "run_lost": "The work was broken off",
    "run_lost_said": "Its process ended from outside. What was finished is kept: go on.",
    "run_done": "Done",
    "run_none": "Nothing is being worked out",
    "run_years": "{done} of {of} years simulated",
    "run_steps": "{done} of {of} done",
    "run_left": "{said}; about {left} to go",
    "run_where": "For whoever helps: {error}",
    "run_close_page": "You may close this page or go to another: the work goes on, and the answer is kept.",
    "stop": "Stop here",
    "go_on": "Go on",
    "see_answer": "See the answer",
    "busy": "Other work is being done",
    "busy_said": "{what} is at work: {done}. One thing is worked out at a time.",
    "busy_stop": "Stop the other and begin this one",
    "busy_leave": "Leave it, and look at it",
    # answer
    "answer": "The answer",
    "answer_none": "Nothing has been worked out for this hospital yet.",
    "work_out": "Work out the answer",
    "work_again": "Work it out again",
    "stopped_at": "Stopped at {done} of {of} years.",
    "yours": Counted("{yours} of {of} figures is yours.", "{yours} of {of} figures are yours.", "yours"),
    "yours_rest": Counted(
        "{rest} is an example or unknown: this is about a hospital like yours, not yet about yours.",
        "{rest} are examples or unknown: this is about a hospital like yours, not yet about yours.",
        "rest",
    ),
    "yours_all": "All {of} figures are yours.",
    "put_in": "Put in your figures",
    "at_likely": "With the likely figures",
    "at_likely_said": "What is not known stands at its likely value here; the intervals hold chance alone.",
    "range_missing": "Stopped before the range over what is not known was worked out: go on before deciding.",
    "changed_since": "The file has changed since this was worked out ({when}).",
    "to_matters": "What would change this answer?",
    "to_buy": "What should we buy?",
    "to_power": "If the power gets worse",
    "to_keep": "How many cylinders to keep?",
    "counted": "What was counted, and how it comes out again",
    "run_line": "o2sim {version} | scenario {hash} | seed {seed} | {done} replications | engine {engine}",
    "print": "Print",
    "make_report": "Make the report (.html)",
    "save_report": "Save the report (.html)",
    "save_scenario": "Save the scenario (.yaml)",
    "cautions": "Cautions",
    # what would change it
    "matters": "What would change this answer?",
    "matters_table": "What to find out, most telling first",
    "matters_what": "Unknown",
    "matters_tried": "Tried",
    "matters_years": "Of 100, at low → high",
    "matters_best": "Best becomes",
    "matters_who": "Who knows",
    "matters_between": "{low} to {high}",
    "matters_ends": "{low} → {high}{luck}",
    "matters_luck": " (no more than chance)",
    "matters_same": "{name} throughout",
    "matters_turn": "{name}, from {begins} on (tried: {tried})",
    "matters_note": (
        "Each figure alone at its lowest and at its highest, all others likely: how often somebody goes without, "
        "of 100 simulated, with “{name}”. Best is the way of supply with the fewest."
    ),
    "put_found": "Put in what I found out",
    "matters_none": "No figure of the file is marked as unknown. Where a figure is a guess, say “I do not know”.",
    # worse power
    "power": "If the power gets worse",
    "power_said": "How long does a usual power cut last? Every length was tried under the same luck; choose one.",
    "power_slider": "Usual length of a power cut",
    "power_table": "Years in 100 with a supply shortfall, and patient-hours unserved for lack of supply a year",
    "power_head": "Usual cut",
    "power_short": "power cuts of {first} to {last} were tried",
    "power_cell": "{chance} in 100 ({low}–{high})",
    "power_hours": "{hours} h",
    "power_note": (
        "A usual cut is the {kind}. In brackets 95 % intervals: two rows whose intervals overlap show no clear "
        "difference. What was not tried is not shown; nothing is guessed between values."
    ),
    "power_mean": "mean of all cuts",
    "power_median": "median: half are shorter",
    "power_none": "The file says nothing of power cuts that can be made longer here.",
    "power_in_file": "{value} (as in the file)",
}  # fmt: skip
