"""A page loads, runs and applies nothing but what is ours, whatever gets into it."""

PUT_IN = """() => {
  document.body.insertAdjacentHTML("beforeend", "<p id=put style='margin-left: 77px'>put in</p>");
  const script = document.createElement("script");
  script.textContent = "document.title = 'it ran'";
  document.body.append(script);
  document.body.insertAdjacentHTML("beforeend", "<img src='http://other.example/a.png' alt=''>");
}"""


def test_what_is_put_into_a_page_does_not_act(at):
    """The policy lets no style, no script and no picture act that is not a file of ours; each is an error."""
    at.go()
    at.page.evaluate(PUT_IN)
    at.page.locator("#put").wait_for()
    assert at.page.locator("#put").evaluate("each => getComputedStyle(each).marginLeft") == "0px"
    assert at.page.title() == "What do you want to know? | o2sim desk"
    wanted = ("inline style", "inline script", "other.example/a.png")
    assert [part for part in wanted if not any(part in said for said in at.foreign)] == []
    at.foreign.clear()


def test_what_is_asked_of_others_is_seen(at):
    """A request that leaves this computer is noted, so that the end of each test would fail."""
    at.go()
    at.page.route("http://other.example/**", lambda route: route.abort())
    with at.page.expect_request("http://other.example/"):
        at.page.evaluate("location = 'http://other.example/'")
    assert at.foreign[0] == "http://other.example/"
    at.foreign.clear()
