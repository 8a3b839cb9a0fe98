"""Run the commands and the Python that README.md shows, with the o2sim that is installed, in the present folder.

The demo hospitals lie in scenarios/, as in a checkout. Placeholders such as FILE get a value from VALUES; commands
that run many replications get few, since it is asked whether they work, not what they find.
"""

from __future__ import annotations

import fcntl
import os
import re
import signal
import socket
import struct
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

GET_FLAGS, SET_FLAGS, IS_UP = 0x8913, 0x8914, 1  # of a network interface, in Linux
FEW = {"size": 60, "hindcast": 100, "today": 100}  # to show a chance of 5 % with confidence takes 59; a bias 100
FEWEST = 4
VALUES = {"FOLDER": "more", "CSV": "scenarios/province.csv", "STORE": "province.o2store", "NAME": "mixed"}
DRAWS = "power.grid.down.median\n1 h\n2 h\n4 h\n8 h\n"  # four joint draws, of one number
FILES = {  # by how a command begins
    "o2sim new": "mine.yaml",
    "o2sim records": "records.xlsx",
    "o2sim fit": "scenarios/heron_point_records.xlsx",
    "o2sim hindcast": "scenarios/heron_point_records.xlsx",
    "o2sim drivers": "scenarios/uncertain_valley.yaml",
    "o2sim compare FILE --options": "scenarios/what_to_buy.yaml",
    "o2sim": "scenarios/health_centre.yaml",
}


def commands(readme: str) -> list[str]:
    """Return the commands that start with o2sim: those of the blocks first, which write what others read."""
    blocks = re.findall(r"```sh\n(.*?)```", readme, re.S)
    shown = [each for block in blocks for each in re.findall(r"(?:^|&& )(?:\.venv/bin/)?(o2sim .*)", block, re.M)]
    return shown + re.findall(r"^\| `(o2sim .*?)` \|", readme, re.M)


def filled(command: str) -> str:
    """Return a command with values for its placeholders; leave with a message where one has none."""
    file = next(file for start, file in FILES.items() if command.startswith(start))
    for name, value in {"FILE": file, **VALUES}.items():
        command = re.sub(rf"\b{name}\b", value, command)
    left = re.findall(r"\b[A-Z]{3,}\b", command)
    if left:
        raise SystemExit(f"README.md: {command}: found the placeholder {left[0]}; give it a value in {__file__}")
    return command


def with_few(command: str) -> str:
    """Return a command with few replications, where it takes a number and none is stated."""
    wanted, to, place = command.partition(" >")
    name = wanted.split()[1]
    shown = subprocess.run(["o2sim", name, "--help"], capture_output=True, text=True, check=True).stdout
    takes = "--replications" in shown and "--replications" not in wanted
    return f"{wanted} --replications {FEW.get(name, FEWEST)}{to}{place}" if takes else command


def run(shown: str, words: list[str]) -> None:
    """Run something and say how long it took; leave with what it said where it fails."""
    began_s = time.monotonic()
    done = subprocess.run(words, capture_output=True, text=True)
    if done.returncode:
        raise SystemExit(f"{done.stdout}{done.stderr}\nREADME.md: {shown}\nended with exit code {done.returncode}")
    print(f"{time.monotonic() - began_s:5.1f} s  {shown}", flush=True)


def run_desk(shown: str) -> None:
    """Open the desk as it is shown, but with no window; ask for its first page, and end it as Ctrl-C does."""
    began_s = time.monotonic()
    Path(shown.split()[-1]).mkdir(exist_ok=True)  # as the command before it does
    loopback_up()
    with subprocess.Popen([*shown.split(), "--no-window"], stdout=subprocess.PIPE, text=True) as desk:
        said = desk.stdout.readline() if desk.stdout else ""
        link = re.search(r"http://127\.0\.0\.1:\d+/open/\S+", said)
        status = urllib.request.urlopen(link[0], timeout=10).status if link else 0
        desk.send_signal(signal.SIGINT)
        code = desk.wait(timeout=20)
    if (status, code) != (200, 0):
        raise SystemExit(f"{said}\nREADME.md: {shown}\nanswered {status}, ended with exit code {code}")
    print(f"{time.monotonic() - began_s:5.1f} s  {shown}", flush=True)


def loopback_up() -> None:
    """Switch the loopback on, where a namespace begins without one; the desk listens on it alone."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        name, flags = struct.unpack("16sh", fcntl.ioctl(asked, GET_FLAGS, struct.pack("16sh", b"lo", 0)))
        if not flags & IS_UP:
            fcntl.ioctl(asked, SET_FLAGS, struct.pack("16sh", name, flags | IS_UP))


def main() -> None:
    """Run them all in order."""
    readme = Path(sys.argv[1]).read_text(encoding="utf-8")
    os.environ["PATH"] = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    found = commands(readme)
    if len(found) < 15:
        raise SystemExit(f"README.md: found only {len(found)} commands; is it written in another way?")
    Path("draws.csv").write_text(DRAWS, encoding="utf-8")
    for command in found:
        if command.startswith("o2sim desk"):
            run_desk(filled(command))
            continue
        whole = with_few(filled(command))
        run(whole, ["bash", "-c", whole])
    (code,) = re.findall(r"```python\n(.*?)```", readme, re.S)
    run("the Python example", [sys.executable, "-c", code])


if __name__ == "__main__":
    main()
