"""The desk without a mouse: a refusal is read first, and leads to its field."""

import pytest
from desk_states import STATES


@pytest.mark.parametrize(
    "name",
    ["questions_refused", "desk_without_an_upload", "today_refused", "buy_with_a_number_that_is_none",
     "prices_refused", "file_with_errors", "file_with_a_name_that_is_taken", "which_figures_hold"],
)  # fmt: skip
def test_after_a_refusal_the_focus_is_where_it_is_explained(at, name):
    """The summary has the focus, so that it is read first, and Tab goes on from it."""
    STATES[name](at)
    at.page.locator("#summary:focus").wait_for()
    at.page.keyboard.press("Tab")
    assert at.page.evaluate("document.activeElement.tagName") in ("A", "INPUT", "BUTTON", "DIV")


def test_the_summary_leads_to_the_field(at):
    """The link of a problem puts one into the field it is about; the field names what is wrong."""
    STATES["questions_refused"](at)
    at.page.locator("#summary:focus").wait_for()
    at.page.keyboard.press("Tab")
    at.page.keyboard.press("Enter")
    field = at.page.locator(":focus")
    assert field.get_attribute("id") == "newborns"
    problem = field.get_attribute("aria-describedby").split()[-1]
    assert "Found “forty”" in at.page.locator(f"#{problem}").inner_text()
