"""Every page of the desk in every state that a reader may meet it in, and how one comes there."""

import json
import re

from browser_at import FILE, unknown_text
from small_ward import WARD

STATES = {}
OWN_PAGES = {}  # complete in one file: the report, the sheets
OURS = "figures: ours\n" + WARD.lstrip()
NO_PRICES = WARD.split("costs:")[0] + "strategies:" + WARD.split("strategies:")[1].split("options:")[0]
NO_OPTIONS = WARD.split("options:")[0]
ONE_MORE = WARD.replace("fleet: 14,", "fleet: 14, owned: 13,").replace("count: 2,", "count: 2, owned: 1,")
OWN = WARD.replace("mixed: {", "mixed: {cylinders: {fleet: 18}, ")
OTHERS = NO_OPTIONS + "options: {of: mixed, vary: {cylinders.fleet: [14, 18], kind: {a: {}, b: {}}}}\n"
BROKEN = WARD.replace("fleet: 14", "fleet: many").replace("count: 2, rated", "count: -2, rated")
NO_GRID = WARD.replace("power: {grid", "# {grid").replace(", power: 350 W", "")


def state(where):
    """Enter a state under the name of its function."""

    def entered(come):
        where[come.__name__] = come
        return come

    return entered


# --- the desk, and files -----------------------------------------------------------------------------------------


@state(STATES)
def desk_of_an_empty_folder(at):
    """Nothing is there yet."""
    at.go()


@state(STATES)
def desk_with_files(at):
    """A file with an answer, one that cannot be read; none is chosen that is gone."""
    at.write()
    at.worked("answer")
    at.write(BROKEN, "broken.yaml", choose=False)
    at.go()


@state(STATES)
def desk_whose_file_is_gone(at):
    """The chosen file was removed."""
    at.write().unlink()
    at.go()


@state(STATES)
def desk_without_an_upload(at):
    """Read was pressed before a file was chosen."""
    at.go()
    at.press("Read this file")
    at.refused()


@state(STATES)
def file_understood(at):
    """A file was read."""
    at.upload(WARD)
    at.come("What was understood")


@state(STATES)
def file_with_a_name_that_is_taken(at):
    """A file of that name lies there."""
    at.write(choose=False)
    at.upload(WARD, FILE)
    at.press("Save and go on")
    at.refused()


@state(STATES)
def file_with_errors(at):
    """A file cannot be used."""
    at.upload(BROKEN)
    at.refused()


# --- questions ---------------------------------------------------------------------------------------------------


def _questions(number):
    def come(at):
        at.go(f"hospital/{number}")

    return come


STATES |= {f"questions_{number}": _questions(number) for number in (1, 2, 3, 4)}


@state(STATES)
def questions_of_a_file(at):
    """Figures of a file, of which one stands in another form."""
    at.write()
    at.go("hospital/1")


@state(STATES)
def questions_refused(at):
    """A figure is none, others are left open."""
    at.go("hospital/1")
    at.field("Newborns admitted in a usual month").fill("forty")
    at.press("Next: Your cylinders")
    at.refused()


@state(STATES)
def which_figures_hold(at):
    """The file was changed by an editor after the page was made."""
    at.write()
    at.go("hospital/2")
    at.field("How many cylinders there are in all").fill("16")
    at.write(WARD.replace("fleet: 14", "fleet: 15"))
    at.press("Next: Your supplier")
    at.come("Which figures hold?")


@state(STATES)
def questions_of_one_way_of_supply(at):
    """A strategy has figures of its own: a fleet, and power cuts in a form that no field shows."""
    at.write(OWN)
    at.go("hospital/2")


@state(STATES)
def questions_refused_of_one_way_of_supply(at):
    """The figure of the strategy is none."""
    at.write(OWN)
    at.go("hospital/2")
    at.page.get_by_label(at.named("Stands under “mixed”:"), exact=True).fill("many")
    at.press("Next: Your supplier")
    at.refused()


# --- work --------------------------------------------------------------------------------------------------------


def _run(state, heading, **more):
    def come(at):
        at.write()
        at.job("answer", state, **more)
        at.go("run")
        at.come(heading)

    return come


STATES |= {
    "run_waiting": _run("waiting", "Waiting"),
    "run_running": _run("running", "Working it out", done=80, of=200),
    "run_stopping": _run("stopping", "Stopping", done=80, of=200),
    "run_stopped": _run("stopped", "Stopped"),
    "run_failed": _run("failed", "Could not be worked out", error="cylinders.fleet: found 3; allowed: 4 or more"),
}


@state(STATES)
def run_getting_ready(at):
    """The engine is being compiled, as once after an installation."""
    at.write()
    at.desk.room._is_ready = False
    at.job("answer", "waiting")
    at.go("run")
    at.come("Getting ready")


@state(STATES)
def run_broken_off(at):
    """An earlier desk ended in the middle."""
    at.write()
    at.broken_off()
    at.go("run")
    at.come("The work was broken off")


@state(STATES)
def run_none(at):
    """Nothing was asked for."""
    at.go("run")


@state(STATES)
def other_work(at):
    """Something else is asked for while an answer is worked out."""
    at.write()
    at.job("answer", "running", done=80, of=200)
    at.go("answer/keep")
    at.press("Work out")
    at.come("Other work is being done")


# --- answers -----------------------------------------------------------------------------------------------------


def _none(path, text=WARD):
    def come(at):
        at.write(text)
        at.go(path)

    return come


def _answered(path, *asked, text=WARD, **more):
    def come(at):
        at.write(text)
        at.worked(*asked, text=text, **more)
        at.go(path)

    return come


STATES |= {
    "answer_none": _none("answer"),
    "answer": _answered("answer", "answer"),
    "answer_stopped": _answered("answer", "answer", complete=False, done=80, of=200),
    "matters_all_known": _none("answer/matters"),
    "buy": _none("answer/buy", NO_OPTIONS),
    "prices": _none("hospital/prices"),
    "options": _none("answer/options", OTHERS),
    "assumed": _none("assumed"),
    "assumed_defaults": _none("assumed/defaults"),
    "buy_without_prices": _none("answer/buy", NO_PRICES),
    "buy_answered": _answered("answer/buy", "buy"),
    "buy_one_more": _answered("answer/buy", "buy", text=ONE_MORE),
    "power_none": _none("answer/power"),
    "power_not_there": _answered("answer/power", "power", text=NO_GRID),
    "power": _answered("answer/power", "power"),
    "keep_none": _none("answer/keep"),
    "keep": _answered("answer/keep", "keep"),
    "sheets_none": _none("sheets"),
    "sheets": _answered("sheets", "keep", text=OURS),
    "sheets_of_an_example": _answered("sheets", "keep"),
    "earlier_none": _none("earlier"),
}


@state(STATES)
def power_in_the_background(at):
    """An answer is there; what longer cuts would do is still worked out."""
    at.write()
    at.job("power", "running", done=80, of=200, behind=True)
    at.go("answer/power")


@state(STATES)
def answer_of_what_is_not_known(at):
    """All twelve were left open: the answer is a range."""
    text = unknown_text(at.desk.today())
    at.write(text)
    at.worked("answer", text=text)
    at.go("answer")


@state(STATES)
def matters(at):
    """What would change the answer."""
    text = unknown_text(at.desk.today())
    at.write(text)
    at.worked("matters", text=text)
    at.go("answer/matters")


@state(STATES)
def answer_of_an_older_file(at):
    """The file has changed since."""
    at.write()
    at.worked("answer")
    at.write(WARD.replace("fleet: 14", "fleet: 15"))
    at.go("answer")


@state(STATES)
def buy_with_a_number_that_is_none(at):
    """What is owned cannot be read."""
    at.write(NO_OPTIONS)
    at.go("answer/buy")
    at.page.locator("#owned_cylinders").fill("a lot")
    at.page.locator("form[action$=own] button").first.click()
    at.refused()


@state(STATES)
def options_refused(at):
    """What may be bought is no number."""
    at.write(NO_OPTIONS)
    at.go("answer/options")
    at.page.locator("#may_cylinders").fill("a lot")
    at.press("Try these")
    at.refused()


@state(STATES)
def prices_refused(at):
    """A price is none."""
    at.write(NO_PRICES)
    at.go("hospital/prices")
    at.page.locator("fieldset input[type=text]").nth(1).fill("a lot")
    at.page.locator("main form button").click()
    at.refused()


# --- today -------------------------------------------------------------------------------------------------------

NO_CYLINDERS = NO_OPTIONS.split("strategies:")[0] + "strategies: {concentrators only: {sources: [concentrator]}}\n"


@state(STATES)
def today_without_a_file(at):
    """No hospital is chosen."""
    at.go("today")


STATES |= {
    "today_without_cylinders": _none("today", NO_CYLINDERS),
    "today_nothing_counted": _none("today"),
}


@state(STATES)
def today_refused(at):
    """A number is none, and what is needed is left empty."""
    at.write()
    at.go("today")
    at.page.locator("#today_full").fill("seven")
    at.press("Work out today")
    at.refused()


@state(STATES)
def today_in_the_stock_card(at):
    """Worked out, and written into the stock card, where two earlier counts stand; one line cannot be read."""
    at.write()
    at.worked("today")
    line = json.loads(at.results("today", WARD)["card_line"])
    days = ("2026-11-27T08:00", "2026-11-28T08:10")
    card = [json.dumps({**line, "counted": day}) for day in days]
    (at.desk.folder.path / "ward-stock-card.jsonl").write_text("\n".join([*card, "a coffee stain", ""]))
    at.go("today")
    at.press("Write this count into the stock card")
    at.page.get_by_role("status").wait_for()


@state(STATES)
def today_of_an_earlier_day(at):
    """What was worked out two days before, stopped before orders were tried."""
    at.write()
    at.worked("today", complete=False, on="2026-11-28")
    at.go("today/1")


# --- from the books ----------------------------------------------------------------------------------------------

WRONG = {
    "sheet": "Patients on oxygen", "cell": "F14", "column": "Flow at first", "found": "found 2,5",
    "allowed": "2.5 or 2.5 L/min", "write": "did you mean 2.5?",
}  # fmt: skip
LACKING = {
    **dict.fromkeys(WRONG, ""),
    "sheet": "Units",
    "found": "3 units on job cards are not on the list of units",
}


def _of_books(path, heading):
    def come(at):
        text = unknown_text(at.desk.today())
        at.write(text)
        at.books(text)
        at.go(path)
        at.come(heading)

    return come


def _run_of_books(state, heading, **more):
    def come(at):
        at.write()
        at.job("books", state, **more)
        at.go("run")
        at.come(heading)

    return come


STATES |= {
    "books": _of_books("records/fits", "What your books give"),
    "book_of_stays": _of_books("records/fits/2", "How long newborns stay on oxygen"),
    "match": _of_books("records/match", "Does it match last year?"),
    "run_of_books": _run_of_books("running", "Working it out", done=80, of=205),
    "run_of_books_stopped": _run_of_books("stopped", "Stopped"),
}


@state(STATES)
def records(at):
    """A workbook is to be sent; there is no file yet."""
    at.go("records")


@state(STATES)
def records_of_what_is_not_known(at):
    """The sheets to fill for what stands open in the file."""
    at.write(unknown_text(at.desk.today()))
    at.go("records")


@state(STATES)
def records_without_an_upload(at):
    """Read was pressed before a workbook was chosen."""
    at.write()
    at.go("records")
    at.press("Read it")
    at.refused()


@state(STATES)
def records_with_errors(at):
    """Cells of the workbook are wrong."""
    at.write()
    found = {"complete": True, "errors": [WRONG, LACKING], "cautions": [LACKING]}
    at.job("books", "done", found=found)
    at.go("records/errors")


@state(STATES)
def books_put_in(at):
    """The figures stand in the file."""
    STATES["books"](at)
    at.press("Put these into the scenario")
    at.page.get_by_role("status").wait_for()


@state(STATES)
def books_none_chosen(at):
    """No box is ticked."""
    STATES["books"](at)
    for box in at.page.locator("input[type=checkbox]").all():
        box.uncheck()
    at.press("Put these into the scenario")
    at.refused()


@state(STATES)
def which_figures_of_books_hold(at):
    """The file was changed by an editor after the page was made."""
    STATES["books"](at)
    at.write(unknown_text(at.desk.today()).replace("fleet: {low: 20, likely: 40, high: 80}", "fleet: 30"))
    at.press("Put these into the scenario")
    at.come("Which figures hold?")


@state(STATES)
def questions_from_books(at):
    """Figures of the books stand in the file."""
    STATES["books_put_in"](at)
    at.go("hospital/1")


# --- earlier answers, the end ------------------------------------------------------------------------------------


@state(STATES)
def earlier(at):
    """Answers, one stopped and one of an older file; a change to undo; work that was broken off."""
    at.write()
    at.worked("answer", complete=False, done=80, of=200)
    at.go("hospital/2")
    at.field("How many cylinders there are in all").fill("16")
    at.press("Next: Your supplier")
    at.come("Your supplier")
    at.worked("power", text=at.text())
    at.broken_off()
    at.go("earlier")


@state(STATES)
def forget(at):
    """Asked before all is forgotten."""
    at.write()
    at.worked("answer")
    at.go("earlier")
    at.press("Forget this hospital")
    at.come("Forget this hospital")


@state(STATES)
def forgotten(at):
    """It was done."""
    forget(at)
    at.press("Forget all of it")
    at.come("Earlier answers")


@state(STATES)
def closed(at):
    """The desk was closed."""
    at.go()
    at.press("Close the desk")
    at.come("The desk is closed")


@state(STATES)
def no_such_page(at):
    """An address leads nowhere."""
    at.go("nowhere")


@state(STATES)
def opening(at):
    """The page of the start link, which goes on by itself."""
    page = at.page.request.get(at.served.keys.start_link(at.desk.door)).text()
    at.page.set_content(re.sub("<meta http-equiv[^>]*>", "", page))  # so that it stays to be looked at
    at.come("Opening the desk")


# --- pages of their own ------------------------------------------------------------------------------------------


def _sheet(name):
    def come(at):
        at.write(OURS)
        at.worked("keep", text=OURS)
        at.go(f"sheets/{name}.html")

    return come


OWN_PAGES |= {name.replace("-", "_"): _sheet(name) for name in ("count-sheet", "dusk-page", "reorder-card")}


@state(OWN_PAGES)
def report(at):
    """The report that is saved, opened from where it was saved."""
    page = at.results("report", WARD)["page"]
    saved = at.served.saved / "report.html"
    saved.write_text(page)
    at.page.goto(saved.as_uri())


@state(OWN_PAGES)
def purchase_list(at):
    """The list of a step, opened from where it was saved."""
    STATES["buy_answered"](at)
    with at.page.expect_download() as saving:
        at.page.locator("button[name=as][value=html]").click()
    saved = at.served.saved / "report.html"
    saving.value.save_as(saved)
    at.page.goto(saved.as_uri())
