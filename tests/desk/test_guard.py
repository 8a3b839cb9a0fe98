"""Who may speak to the desk: requests over raw sockets, each with the answer that it must give."""

import io
import zipfile

import pytest
from desk_server import served
from scenario_texts import SMALL

SCENARIO = SMALL
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)


@pytest.fixture(scope="module")
def desk(tmp_path_factory):
    """Serve a desk with one scenario in its folder."""
    folder = tmp_path_factory.mktemp("hospitals")
    (folder / "hill.yaml").write_text(SCENARIO)
    with served(folder, tmp_path_factory.mktemp("state")) as found:
        yield found


def opening(desk, host="{host}", key=None):
    """Return the answer to a start link."""
    key = desk.keys.start_link(desk.desk.door).rpartition("/")[2] if key is None else key
    return key, desk.send(f"GET /open/{key} HTTP/1.1\nHost: {host}\nConnection: close")


# --- the start link ----------------------------------------------------------------------------------------------


def test_the_start_link_lets_one_browser_in_once(desk):
    """The right key gives a cookie for our path alone, that no script reads; the second time it gives nothing."""
    key, first = opening(desk)
    cookie = first.headers["set-cookie"]
    assert first.status == 200
    assert all(part in cookie for part in ("HttpOnly", "SameSite=strict", f"Path={desk.desk.door.path}"))
    assert first.headers["referrer-policy"] == "no-referrer"
    assert opening(desk, key=key)[1].status == 403


def test_a_wrong_start_key_opens_nothing(desk):
    """A key that was never given is refused, and no cookie comes with it."""
    _, answer = opening(desk, key="x" * 43)
    assert (answer.status, "set-cookie" in answer.headers) == (403, False)


def test_a_start_key_holds_two_minutes(desk):
    """A key is refused when it is older, and is used up by that."""
    import time

    key = desk.keys.start_link(desk.desk.door).rpartition("/")[2]
    assert desk.keys.use_key(key, time.time() + 121) is False
    assert desk.keys.use_key(key) is False


def test_another_name_of_the_host_uses_no_key_up(desk):
    """A name that was made to lead to this computer is refused, and the key is still good after it."""
    key, answer = opening(desk, "evil.example")
    assert answer.status == 421
    assert opening(desk, key=key)[1].status == 200


# --- the pass, the host, the sender ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "cookie", ["", "\nCookie: o2sim-desk=x", "\nCookie: o2sim-desk=\udcc3\udca9", "\nCookie: a=b"]
)
def test_a_page_needs_the_pass(desk, cookie):
    """Without the pass, with a wrong one and with one that is no ASCII nothing is shown."""
    answer = desk.send(f"GET {{path}}/ HTTP/1.1\nHost: {{host}}\nConnection: close{cookie}")
    assert (answer.status, desk.desk.door.form_key in answer.body) == (403, False)


@pytest.mark.parametrize(
    ("host", "status"),
    [
        ("\nHost: evil.example", 421),
        ("\nHost: 127.0.0.1:1", 421),
        ("\nHost: 127.0.0.1.evil.example", 421),
        ("", 400),
        ("\nHost: {host}\nHost: {host}", 400),
        ("\nHost: {host}\nHost: evil.example", 400),
    ],
)
def test_the_host_must_be_this_computer(desk, host, status):
    """Another name, another port, none, or two are refused: who rebinds a name reads nothing."""
    answer = desk.send(f"GET {{path}}/ HTTP/1.1{host}\nCookie: {{cookie}}\nConnection: close")
    assert answer.status == status


def test_localhost_is_this_computer_too(desk):
    """The other name that browsers have for this computer is allowed."""
    port = desk.desk.door.port
    answer = desk.send(f"GET {{path}}/ HTTP/1.1\nHost: localhost:{port}\nCookie: {{cookie}}\nConnection: close")
    assert answer.status == 200


def test_an_address_that_names_another_host_is_not_ours(desk):
    """A request in absolute form, as one sends to a proxy, finds nothing."""
    text = "GET http://evil.example{path}/ HTTP/1.1\nHost: {host}\nCookie: {cookie}\nConnection: close"
    assert desk.send(text).status == 404


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_a_page_of_others_reads_nothing(desk, site):
    """What another page asks for, of another site or another port, is refused."""
    assert desk.get("/", f"\nSec-Fetch-Site: {site}").status == 403


def test_a_form_of_ours_is_taken(desk):
    """With pass, form key and origin a change is made, and leads on."""
    answer = desk.post("/choose", "file=hill.yaml")
    assert (answer.status, answer.place) == (303, "/hospital/1")


@pytest.mark.parametrize("key", ["", "0" * 64, "\u00e9"])
def test_a_form_needs_its_key(desk, key):
    """Without the form key, with that of another and with one that is no ASCII nothing is changed."""
    assert desk.post("/choose", "file=hill.yaml", key=key).status == 403


@pytest.mark.parametrize(
    "origin",
    [
        "\nOrigin: http://evil.example",
        "\nOrigin: http://127.0.0.1:1",
        "\nOrigin: null",
        "",
        "\nOrigin: https://{host}",
    ],
)
def test_a_form_needs_our_origin(desk, origin):
    """A form from another site, another port, nowhere or nobody changes nothing."""
    assert desk.post("/choose", "file=hill.yaml", more=origin).status == 403


@pytest.mark.parametrize(
    ("method", "path", "more", "status"),
    [
        ("PUT", "/", "", 405),
        ("DELETE", "/", "", 405),
        ("TRACE", "/", "", 405),
        ("OPTIONS", "/", "", 405),
        ("OPTIONS", "/", "\nOrigin: http://evil.example", 403),
        ("GET", "/choose", "", 405),
        ("GET", "/forget", "", 405),
        ("GET", "/today/card", "", 405),
        ("GET", "/nothing", "", 404),
    ],
)
def test_changes_are_sent_and_pages_asked_for(desk, method, path, more, status):
    """Other methods are refused, a change is never asked for by an address, and no page that is not there."""
    text = f"{method} {{path}}{path} HTTP/1.1\nHost: {{host}}\nCookie: {{cookie}}\nConnection: close{more}"
    assert desk.send(text).status == status


def test_a_page_takes_no_form(desk):
    """A form that is sent to a page which only shows is refused."""
    assert desk.post("/answer").status == 405


# --- our own files -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "name",
    [
        "../desk.py", "..%2fdesk.py", "%2e%2e/desk.py", "%2e%2e%2fdesk.py", "..%5cdesk.py", "..\\desk.py",
        "desk.css%00", "./../words.py", "....//desk.py",
    ],
)  # fmt: skip
def test_nothing_but_style_and_script_is_given_out(desk, name):
    """However one writes the way up, no file of the program is read."""
    assert desk.get(f"/own/{name}").status == 404


def test_style_and_script_are_given_out(desk):
    """The two files that a page asks for are there, as what they are."""
    kinds = [
        desk.get(f"/own/{name}").headers["content-type"].partition(";")[0] for name in ("desk.css", "desk.js")
    ]
    assert kinds == ["text/css", "text/javascript"]


# --- what is sent ------------------------------------------------------------------------------------------------


def workbook(entries):
    """Return a zip file with entries."""
    found = io.BytesIO()
    with zipfile.ZipFile(found, "w", zipfile.ZIP_DEFLATED) as made:
        for name, content in entries:
            made.writestr(name, content)
    return found.getvalue()


@pytest.mark.parametrize("name", ["hill.yaml", "../../evil.yaml", "C:\\\\evil.yaml"])
def test_a_scenario_is_read_whatever_its_name(desk, name):
    """A file that is sent is read and shown; its name leads nowhere, and nothing is written."""
    answer = desk.upload(name, SCENARIO.encode())
    written = [each.name for each in desk.desk.folder.path.iterdir() if "evil" in each.name]
    assert (answer.status, written, "What was understood" in answer.body) == (200, [], True)


BOMB = b"a: &a [x, x]\n" + b"".join(b"b%d: &b%d [*a, *a]\n" % (n, n) for n in range(40))


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("bomb.yaml", BOMB),
        ("deep.yaml", b"a: " + b"[" * 5_000),
        ("power.yaml", SCENARIO.replace("fleet: 4", "fleet: 9**9**9").encode()),
        ("latin.yaml", b"name: H\xf4pital\n"),
        ("elsewhere.yaml", b"patients: {all: {register: {file: /etc/passwd}}}\n"),
        ("large.xlsx", workbook([("x", bytes(90_000_000))])),
        ("many.xlsx", workbook([(f"{n}", b"") for n in range(300)])),
        ("cut.xlsx", workbook([("x", b"x")])[:20]),
        ("notes.txt", b"name: x\n"),
        ("empty.yaml", b""),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_what_cannot_be_read_is_refused_and_said(desk, name, content):
    """Texts that would grow, nest or compute without end, other encodings, workbooks that unpack to much: 422."""
    answer = desk.upload(name, content)
    assert (answer.status, "Not yet" in answer.body, "root:" in answer.body) == (422, True, False)


def test_an_upload_writes_over_no_file(desk):
    """Saved under a name that is taken, a file that was read is not written."""
    before = (desk.desk.folder.path / "hill.yaml").read_bytes()
    answer = desk.post("/save", "stem=hill&text=name%3A+x")
    assert (answer.status, (desk.desk.folder.path / "hill.yaml").read_bytes()) == (422, before)


@pytest.mark.parametrize("stem", ["../evil", "a/b", "", "x" * 61, "con:", ".hidden", "%C3%A9", "a%0Ab"])
def test_a_new_name_is_letters_digits_and_little_else(desk, stem):
    """A name that could lead elsewhere, or be read wrongly, is refused, and nothing is written."""
    from urllib.parse import quote

    before = sorted(desk.desk.folder.path.rglob("*.yaml"))
    answer = desk.post("/save", f"stem={stem}&text={quote(SCENARIO)}")
    assert (answer.status, sorted(desk.desk.folder.path.rglob("*.yaml"))) == (422, before)


def test_a_message_that_is_too_large_is_read_on_and_refused(desk):
    """Of 3 MB the sender sees the reason, not a broken connection."""
    answer = desk.post("/choose", desk.form("file=") + b"x" * 3_000_000)
    assert (answer.status, "2 MB" in answer.body) == (413, True)


@pytest.mark.parametrize(
    ("lengths", "status"),
    [
        ("\nContent-Length: 99999999999", 413),
        ("\nTransfer-Encoding: chunked", 411),
        ("\nContent-Length: 5\nTransfer-Encoding: chunked", 411),
        ("\nContent-Length: 5\nContent-Length: 6", 400),
        ("\nContent-Length: x", 400),
    ],
)
def test_a_message_says_its_length_once(desk, lengths, status):
    """A length that lies, none, or two are refused."""
    kind = "application/x-www-form-urlencoded"
    head = "POST {path}/choose HTTP/1.1\nHost: {host}\nCookie: {cookie}\nOrigin: http://{host}\nConnection: close"
    assert desk.send(f"{head}\nContent-Type: {kind}{lengths}", b"0\r\n\r\n").status == status


def test_a_form_has_few_fields(desk):
    """Of 1,000 fields none is looked at."""
    assert desk.post("/choose", "&".join(f"a{n}=1" for n in range(1_000))).status == 400


def test_a_form_has_one_file(desk):
    """Of two files none is looked at."""
    part = b'--edge\r\nContent-Disposition: form-data; name="upload"; filename="a.yaml"\r\n\r\nx\r\n'
    body = part + part + b"--edge--\r\n"
    assert desk.post("/read", body, kind="multipart/form-data; boundary=edge").status == 400


def test_headers_are_short(desk):
    """40 kB of headers are refused, which the server by itself would let through."""
    assert desk.get("/", f"\nX-Long: {'x' * 40_000}").status == 431


def test_what_is_typed_comes_back_as_text(desk):
    """A script in a field is shown as it was typed, in a field, and is no script."""
    desk.post("/new")
    typed = "newborns=%3Cscript%3Ealert(1)%3C/script%3E&newborns.choice=ours"
    answer = desk.post("/hospital/1", f"{typed}&do=next")
    assert (answer.status, "<script>alert" in answer.body, "&lt;script&gt;alert" in answer.body) == (
        422,
        False,
        True,
    )


@pytest.mark.parametrize("path", ["/", "/hospital/1", "/own/desk.css", "/nothing", "/state"])
def test_every_answer_has_our_policy(desk, path):
    """What a page may do is said with each answer; no server is named, nothing is kept by the browser."""
    headers = desk.get(path).headers
    assert headers["content-security-policy"] == POLICY
    assert (headers["x-content-type-options"], headers["x-frame-options"]) == ("nosniff", "DENY")
    assert (headers["referrer-policy"], headers["cache-control"]) == ("same-origin", "no-store")
    assert "server" not in headers


def test_only_this_computer_is_listened_to(desk):
    """The socket is bound to 127.0.0.1."""
    from pathlib import Path

    wanted = f"{desk.desk.door.port:04X}"
    lines = [line.split() for line in Path("/proc/net/tcp").read_text().splitlines()[1:]]
    listening = [fields[1] for fields in lines if fields[3] == "0A" and fields[1].endswith(f":{wanted}")]
    assert listening == [f"0100007F:{wanted}"]
