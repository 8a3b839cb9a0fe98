"""Whole ways through the desk: by its own link, without a mouse, without script, in two windows."""

import re

from desk_server import served
from desk_states import STATES

from o2sim.desk import work
from o2sim.desk.guard import COOKIE

PAGES = ("Your cylinders", "Your supplier", "Concentrators and power")


def tab_to(page, role, name):
    """Press Tab until a control of a role and a name has the focus."""
    wanted = page.get_by_role(role, name=name, exact=True)
    for _ in range(80):
        if wanted.evaluate("each => each === document.activeElement"):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"Tab does not come to {name}")


def test_the_first_visit_without_a_mouse(at):
    """From an empty folder to the answer, on to prices and to the purchase list, with nothing but the keyboard."""
    page = at.page
    at.go()
    tab_to(page, "link", "How often will someone go without?")
    page.keyboard.press("Enter")
    at.come("Who comes")
    tab_to(page, "textbox", "Newborns admitted in a usual month")
    page.keyboard.type("31")
    tab_to(page, "textbox", "Adults admitted in a usual month")
    page.keyboard.press("Tab")
    page.keyboard.press("ArrowDown")  # the usual figure
    tab_to(page, "button", "Work out the answer with what is here")
    page.keyboard.press("Enter")
    at.come("The answer")
    assert "1 of 12 figures is yours." in page.locator("main").inner_text()
    tab_to(page, "link", "What should we buy?")
    page.keyboard.press("Enter")
    at.come("What should we buy?")
    assert re.search(r"admissions: 31 / month +# from the desk", at.text("our_hospital.yaml"))
    tab_to(page, "link", "Put in prices")
    page.keyboard.press("Enter")
    at.come("Prices")
    for field, figure in (("Currency of all prices", "USD"), ("One cylinder, bought", "240")):
        tab_to(page, "textbox", field)
        page.keyboard.press("Control+A")
        page.keyboard.type(figure)
    tab_to(page, "button", "Save the prices")
    page.keyboard.press("Enter")
    at.come("What should we buy?")
    tab_to(page, "button", "Work out")
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Make the purchase list").wait_for()
    tab_to(page, "button", "Make the purchase list")
    with page.expect_download() as saving:
        page.keyboard.press("Enter")
    assert saving.value.suggested_filename == "purchase-list-draft.html"


def test_today_without_script(window, at):
    """From the first page to the advice of a count, and into the stock card."""
    at.write()
    bare = window(java_script_enabled=False)
    bare.go()
    bare.page.get_by_role("link", name="How long does today’s stock last?").click()
    bare.field("Full cylinders in the store").fill("4")
    bare.field("Empty").fill("5")
    bare.press("Work out today")
    bare.page.get_by_text("Order at least 2 today.").wait_for()
    bare.press("Write this count into the stock card")
    bare.page.get_by_text("This count stands in the stock card").wait_for()
    assert len((at.desk.folder.path / "ward-stock-card.jsonl").read_text().splitlines()) == 1


def test_the_first_visit_without_script(window, at):
    """Four pages, a run that is followed by itself, the answer: nothing of it takes a script."""
    bare = window(java_script_enabled=False)
    bare.go()
    bare.page.get_by_role("link", name="How often will someone go without?").click()
    bare.field("Newborns admitted in a usual month").fill("forty")
    bare.press("Next: Your cylinders")
    bare.page.get_by_role("alert").get_by_role("link", name=re.compile("Newborns")).click()
    bare.field("Newborns admitted in a usual month").fill("40")
    for group in bare.page.locator("fieldset").all()[1:]:
        group.get_by_role("radio", name=re.compile("I do not know")).check()
    for heading in PAGES:
        bare.press(f"Next: {heading}")
        bare.come(heading)
        for group in bare.page.locator("fieldset").all():
            group.get_by_role("radio", name=re.compile("I do not know")).check()
    bare.press("Work out the answer")
    bare.come("The answer")
    assert "1 of 12 figures is yours." in bare.page.locator("main").inner_text()


def test_a_run_is_followed_without_script(window, at):
    """The page of a run asks again by itself until there is an answer."""
    bare = window(java_script_enabled=False)
    bare.write()
    bare.desk.ask("answer", bare.desk.given(bare.desk.read(), (0, 12), of=5, each_s=0.2))
    bare.go("run")
    bare.come("The answer")


def test_a_slider_moves_over_the_rows_of_its_table(at):
    """By arrow keys each length of a cut is said as its row has it; the row that holds is marked."""
    at.write()
    at.worked("power")
    at.go("answer/power")
    slider, rows = at.page.get_by_role("slider"), at.page.locator("tbody tr")
    slider.focus()
    at.page.keyboard.press("Home")
    for row in rows.all():
        head, *cells = [cell.inner_text() for cell in row.locator("th, td").all()]
        said = at.page.get_by_role("status").inner_text()
        assert (slider.get_attribute("aria-valuetext"), said.startswith(f"{head}. ")) == (head, True)
        assert [cell for cell in cells if cell.replace("\n", ", ") not in said] == []
        assert [each.inner_text() for each in at.page.locator("tr.chosen th").all()] == [head]
        at.page.keyboard.press("ArrowRight")


def test_two_windows_lose_nothing(window, at):
    """A figure saved in one window is not written over by another: it is asked, and what is chosen holds."""
    fleet = "How many cylinders there are in all"
    at.write(choose=True)
    other = window()
    for each in (at, other):
        each.go("hospital/2")
    other.field(fleet).fill("20")
    other.press("Next: Your supplier")
    other.come("Your supplier")
    at.field(fleet).fill("16")
    at.press("Next: Your supplier")
    at.come("Which figures hold?")
    assert "fleet: 20" in at.text()
    choices = at.page.get_by_role("row", name=re.compile(fleet)).get_by_role("radio")
    assert choices.evaluate_all("each => each.map(one => one.checked)") == [False, True]
    at.press("Save what is chosen")
    at.come("Your cylinders")
    assert "fleet: 16" in at.text()
    at.go("earlier")
    at.page.get_by_role("button", name="Undo this change").first.click()
    at.page.get_by_role("status").wait_for()
    assert "fleet: 20" in at.text()


def test_a_field_is_checked_as_one_leaves_it(at):
    """What is wrong is said at the field, and read with it; mended, it is gone."""
    at.go("hospital/1")
    field = at.field("Newborns admitted in a usual month")
    field.fill("forty")
    field.blur()
    at.page.get_by_text("Found “forty”").wait_for()
    assert field.get_attribute("aria-invalid") == "true"
    assert "newborns-problem" in field.get_attribute("aria-describedby").split()
    field.fill("40")
    field.blur()
    at.page.get_by_text("Found “forty”").wait_for(state="hidden")
    assert field.get_attribute("aria-invalid") is None


def test_the_start_link_opens_the_desk_once(chromium, at):
    """From the page file the link leads to the desk by itself; a second time it is refused."""
    with_none = chromium.new_context()
    try:
        link = at.served.keys.start_link(at.desk.door)
        start = at.served.keys.start_page(link, "Go on to the desk")
        page = with_none.new_page()
        page.goto(start.as_uri())
        page.get_by_role("heading", name="What do you want to know?").wait_for()
        (pass_of,) = with_none.cookies()
        shown = (pass_of["name"], pass_of["path"], pass_of["httpOnly"], pass_of["sameSite"])
        assert shown == (COOKIE, at.desk.door.path, True, "Strict")
        assert chromium.new_page().goto(link).status == 403
    finally:
        with_none.close()


def test_an_answer_of_the_engine_itself(tmp_path, window):
    """With the engine that computes, one press leads from a file to its answer: a picture and a table."""
    (tmp_path / "hospitals").mkdir()
    with served(tmp_path / "hospitals", tmp_path / "state", work.do, work.get_ready) as found:
        found.saved = tmp_path
        real = window(of=found)
        real.write()
        real.go("answer")
        real.press("Work out the answer")
        real.page.get_by_role("heading", level=1, name="The answer").wait_for(timeout=60_000)
        assert "of 200 runs of 60 days" in real.page.locator("main").inner_text()
        assert (real.page.get_by_role("img").count(), real.page.get_by_role("table").count()) == (1, 1)


def test_what_is_worked_out_behind_comes_by_itself(at):
    """A page that waits for background work shows its answer as soon as that is there, asked for by nobody."""
    STATES["power_in_the_background"](at)
    assert at.page.locator("#tried").count() == 0
    at.worked("power")
    at.desk.room._jobs.clear()  # it is at its end
    at.page.locator("#tried").wait_for()
