"""A desk that serves in a thread of the test, and requests to it letter by letter over a socket."""

import re
import socket
import threading
import time
from contextlib import contextmanager
from dataclasses import dataclass

import fake_work
import uvicorn

from o2sim.desk.desk import Desk
from o2sim.desk.door import DoorFolder, open_door
from o2sim.desk.engine_room import EngineRoom
from o2sim.desk.folder import Folder
from o2sim.desk.history import History
from o2sim.desk.sent_books import SentBooks
from o2sim.desk.server import config


@dataclass
class Answer:
    """What came back."""

    status: int
    headers: dict
    body: str

    @property
    def place(self):
        """Return where it leads, without the random path."""
        return re.sub(r"^/[0-9a-f]{16}", "", self.headers.get("location", ""))


@dataclass
class Served:
    """A desk with its door, and a browser's pass to it."""

    desk: Desk
    keys: DoorFolder

    @property
    def host(self):
        """Return how a browser calls it."""
        return self.desk.door.hosts[0]

    @property
    def cookie(self):
        """Return the header with the pass."""
        return f"o2sim-desk={self.desk.door.password}"

    def send(self, text, body=b""):
        """Return the answer to a request as it is written; {host}, {path} and {cookie} stand for ours."""
        head = text.format(host=self.host, path=self.desk.door.path, cookie=self.cookie)
        with socket.create_connection(("127.0.0.1", self.desk.door.port), timeout=10) as line:
            line.sendall(head.replace("\n", "\r\n").encode("utf-8", "surrogateescape") + b"\r\n\r\n" + body)
            return _answer(line)

    def get(self, path, more=""):
        """Return a page, asked for as a browser does."""
        return self.send(
            f"GET {{path}}{path} HTTP/1.1\nHost: {{host}}\nCookie: {{cookie}}\nConnection: close{more}"
        )

    def post(
        self, path, fields="", key=None, more="\nOrigin: http://{host}", kind="application/x-www-form-urlencoded"
    ):
        """Return what comes of a form, sent as a browser does."""
        body = fields if isinstance(fields, bytes) else self.form(fields, key)
        head = f"POST {{path}}{path} HTTP/1.1\nHost: {{host}}\nCookie: {{cookie}}\nConnection: close{more}"
        return self.send(f"{head}\nContent-Type: {kind}\nContent-Length: {len(body)}", body)

    def form(self, fields, key=None):
        """Return the body of a form with its key."""
        key = self.desk.door.form_key if key is None else key
        return f"form_key={key}&{fields}".encode()

    def upload(self, name, content, path="/read", do=""):
        """Return what comes of a file that is sent; do: the button that is pressed."""
        lines = [
            b'--edge\r\nContent-Disposition: form-data; name="form_key"\r\n\r\n'
            + self.desk.door.form_key.encode(),
            f'--edge\r\nContent-Disposition: form-data; name="do"\r\n\r\n{do}'.encode(),
            f'--edge\r\nContent-Disposition: form-data; name="upload"; filename="{name}"\r\n\r\n'.encode()
            + content,
            b"--edge--\r\n",
        ]
        return self.post(path, b"\r\n".join(lines), kind="multipart/form-data; boundary=edge")


@contextmanager
def served(folder, state, do=fake_work.do, ready=fake_work.get_ready, drained_s=0.5):
    """Give a desk that serves a folder. state: where its door is kept."""
    keys = DoorFolder(folder, state)
    door, listener = open_door(keys.kept())
    found = []
    room = EngineRoom(ready, do, lambda job: found[0].ended(job))
    desk = Desk(Folder(folder), History(folder), room, door, keys.use_key, SentBooks(keys.folder))
    found.append(desk)
    server = uvicorn.Server(config(desk, drained_s=drained_s))
    desk.end = lambda: setattr(server, "should_exit", True)
    thread = threading.Thread(target=lambda: server.run(sockets=[listener]), daemon=True)
    thread.start()
    try:
        yield Served(desk, keys)
    finally:
        server.should_exit = True
        thread.join(5)
        room.close()
        listener.close()


def until(condition, most_s=10.0):
    """Wait until a condition holds; return whether it does."""
    end = time.monotonic() + most_s
    while not condition():
        if time.monotonic() > end:
            return False
        time.sleep(0.01)
    return True


def _answer(line):
    found = b""
    while True:
        try:
            part = line.recv(65_536)
        except ConnectionResetError:
            break
        found += part
        if not part:
            break
        head, mark, body = found.partition(b"\r\n\r\n")
        length = re.search(rb"(?i)content-length: (\d+)", head)
        if mark and length and len(body) >= int(length[1]):
            break
    head, _, body = found.decode("utf-8", "replace").partition("\r\n\r\n")
    first, *lines = head.split("\r\n")
    headers = dict(line.lower().split(": ", 1) if ": " in line else (line, "") for line in lines)
    raw = {
        name: line.split(": ", 1)[1] for line in lines if ": " in line for name in [line.split(": ")[0].lower()]
    }
    return Answer(int(first.split(" ")[1]), {**headers, **raw}, body)
