"""Write the digests anew, after a change that is meant to change results, `--json`, pages or screens.

    python tests/digests/make.py results            what is simulated, and what `--json` prints
    python tests/digests/make.py pages              reports, descriptions, screens, files, notebooks
    python tests/digests/make.py pages --keep kept  and the texts themselves, to be read with diff

It says which parts are no longer what they were. Digests of the kernel and the reference are one and the same.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import sys
import time
from collections.abc import Iterable, Mapping
from pathlib import Path

HERE = Path(__file__).resolve().parent
Digests = Mapping[str, str]


def digests(parts: Iterable[tuple[str, str]], keep: Path | None = None) -> dict[str, str]:
    """Return the SHA-256 of each text by its name; put the texts into a folder, where one is given."""
    found: dict[str, str] = {}
    for name, text in parts:
        if name in found:
            raise SystemExit(f"{name}: named twice")
        found[name] = hashlib.sha256(text.encode()).hexdigest()
        if keep is not None:
            keep.mkdir(parents=True, exist_ok=True)
            (keep / file_name(name)).write_text(text, encoding="utf-8", newline="")
    return found


def file_name(part: str) -> str:
    """Return a name that any file system takes; what is cut off tells in its digest."""
    plain = "".join(letter if letter.isalnum() or letter in "-._" else "_" for letter in part)
    return f"{plain[:120]}-{hashlib.sha256(part.encode()).hexdigest()[:8]}.txt"


def differences(before: Digests, now: Digests) -> list[str]:
    """Return the names of the parts that differ, that are gone and that are new, each with which it is."""
    return [
        f"{name}: {'new' if name not in before else 'gone' if name not in now else 'differs'}"
        for name in sorted(before.keys() | now.keys())
        if before.get(name) != now.get(name)
    ]


def read(kind: str) -> dict[str, dict[str, str]]:
    """Return what was kept: results or pages."""
    kept: dict[str, dict[str, str]] = json.loads((HERE / f"{kind}.json").read_text(encoding="utf-8"))
    return kept


def results(keep: Path | None) -> dict[str, Digests]:
    """Return the digests of what both engines simulate, and of what `--json` prints."""
    from digest_commands import of_every_scenario, of_some, printed
    from digest_runs import ENGINES, names, runs

    kernel, reference = (
        digests((part for name in names() for part in runs(name, engine)), keep and keep / engine)
        for engine in ENGINES
    )
    if apart := differences(kernel, reference):
        raise SystemExit("The engines differ, so nothing was written:\n" + "\n".join(apart))
    commands = [*of_every_scenario(), *of_some()]
    return {"runs": kernel, "json": digests(printed(commands, "--json"), keep and keep / "json")}


def pages(keep: Path | None) -> dict[str, Digests]:
    """Return the digests of what is laid out, with the versions of the libraries that drew it."""
    from digest_pages import GROUPS, versions

    made = {name: digests(parts(), keep and keep / "pages") for name, parts in GROUPS.items()}
    return {"made with": versions(), **made}


def main(arguments: Iterable[str] | None = None) -> None:
    """Write one file of digests and say what is new in it."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("kind", choices=("results", "pages"))
    parser.add_argument("--keep", type=Path, metavar="DIR", help="put the texts themselves into this folder")
    asked = parser.parse_args(arguments)
    began = time.monotonic()
    found = {"results": results, "pages": pages}[asked.kind](asked.keep and asked.keep.resolve())
    path = HERE / f"{asked.kind}.json"
    before = read(asked.kind) if path.exists() else {}
    for group, now in found.items():
        for line in differences(before.get(group, {}), now):
            print(f"{group}: {line}")
    path.write_text(json.dumps(found, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    count = sum(map(len, found.values()))
    print(f"{count} digests in {path.name}, {time.monotonic() - began:.0f} s", file=sys.stderr)


if __name__ == "__main__":
    main()
