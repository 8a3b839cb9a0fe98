"""Make a folder to install o2sim from where there is no network: wheels, hashes, licences, installer, check.

For a machine like this one:   python3 .ci/offline_folder.py FOLDER
For Windows, made anywhere:    python3 .ci/offline_folder.py FOLDER --platform win_amd64 --python 3.11

Needs nothing but Python, its pip and access to a package index through pip's own configuration.
"""

from __future__ import annotations

import argparse
import hashlib
import platform
import re
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from email.message import Message
from email.parser import Parser
from pathlib import Path

# pip brings these along; nothing else would be there on every machine that has pip
from pip._vendor.packaging.requirements import Requirement
from pip._vendor.packaging.utils import canonicalize_name, parse_wheel_filename

ROOT = Path(__file__).resolve().parents[1]
TEMPLATES = Path(__file__).resolve().parent / "offline"
LICENCE_NAMES = ("licen", "copying", "notice", "copyright")
ROUNDS = 5  # of looking for what the target needs and this machine does not


@dataclass(frozen=True)
class Target:
    """The machine to install on: its system, pip's names for the platform (none: this machine), its Python."""

    system: str
    python: str
    platforms: tuple[str, ...]
    machine: str

    @property
    def markers(self) -> dict[str, str]:
        """Return what the conditions in a wheel's requirements are read with."""
        windows = self.system == "Windows"
        return {
            "implementation_name": "cpython",
            "implementation_version": f"{self.python}.9",
            "os_name": "nt" if windows else "posix",
            "platform_machine": self.machine,
            "platform_python_implementation": "CPython",
            "platform_release": "",
            "platform_system": self.system,
            "platform_version": "",
            "python_full_version": f"{self.python}.9",
            "python_version": self.python,
            "sys_platform": "win32" if windows else "linux",
        }

    @property
    def pip_options(self) -> list[str]:
        """Return the options by which pip takes wheels for this machine."""
        if not self.platforms:
            return []
        chosen = [word for name in self.platforms for word in ("--platform", name)]
        return [*chosen, "--python-version", self.python, "--implementation", "cp"]

    @property
    def installer(self) -> str:
        """Return the name of the file that installs."""
        return "install.bat" if self.system == "Windows" else "install.sh"


def target_of(platforms: Sequence[str], python: str) -> Target:
    """Return the machine that pip's names mean, this one where there are none; leave with a message if unknown."""
    here = f"{sys.version_info.major}.{sys.version_info.minor}"
    if not platforms:
        if platform.system() not in ("Linux", "Windows"):
            raise SystemExit(f"this is {platform.system()}, for which there is no installer; name a --platform")
        if python not in ("", here):
            raise SystemExit(f"--python: found {python}, this is {here}; for another one name the --platform too")
        return Target(platform.system(), here, (), platform.machine())
    machines = {_machine(name) for name in platforms}
    if None in machines or len(machines) != 1:
        raise SystemExit(f"--platform: found {', '.join(platforms)}; allowed: win_amd64, or names of one machine "
                         "such as manylinux_2_28_x86_64")  # fmt: skip
    if not re.fullmatch(r"3\.\d+", python or here):
        raise SystemExit(f"--python: found {python}; allowed: a version such as 3.11")
    return Target(
        "Windows" if platforms[0] == "win_amd64" else "Linux", python or here, tuple(platforms), *machines
    )


def _machine(name: str) -> str | None:
    """Return what Python calls the processor of one of pip's platforms, None if there is no installer for it."""
    if name == "win_amd64":
        return "AMD64"
    found = re.fullmatch(r"(?:linux|manylinux\d+|manylinux_\d+_\d+)_([a-z]\w+)", name)
    return found[1] if found else None


def metadata(wheel: Path) -> Message:
    """Return what a wheel says of itself."""
    with zipfile.ZipFile(wheel) as opened:
        (name,) = [
            each for each in opened.namelist() if each.endswith(".dist-info/METADATA") and each.count("/") == 1
        ]
        return Parser().parsestr(opened.read(name).decode("utf-8", "replace"), headersonly=True)


def missing(wheels: Iterable[Path], target: Target, extras: Iterable[str] = ()) -> list[str]:
    """Return the requirements that no wheel meets on the target, of o2sim and of all it leads to.

    pip reads the conditions of requirements (`; sys_platform == "win32"`) as they are here, not there.
    """
    found_in = [metadata(wheel) for wheel in wheels]
    have = {canonicalize_name(each["Name"]): each for each in found_in}
    waiting, seen, unmet = [("o2sim", frozenset(extras))], set(), set()
    while waiting:
        name, chosen = waiting.pop()
        if (name, chosen) in seen:
            continue
        seen.add((name, chosen))
        for line in have[name].get_all("Requires-Dist", []):
            need = Requirement(line)
            if need.marker and not any(
                need.marker.evaluate({**target.markers, "extra": extra}) for extra in chosen or {""}
            ):
                continue
            found = canonicalize_name(need.name)
            if found in have and need.specifier.contains(have[found]["Version"], prereleases=True):
                waiting.append((found, frozenset(need.extras)))
            else:
                unmet.add(f"{need.name}{need.specifier}")
    return sorted(unmet)


def requirements(wheels: Iterable[Path]) -> str:
    """Return the wheels as pip's requirements with their hashes; leave with a message where one is there twice."""
    lines: dict[str, str] = {}
    for wheel in sorted(wheels):
        name, version, _, _ = parse_wheel_filename(wheel.name)
        if name in lines:
            raise SystemExit(f"{wheel.name}: found a second version of {name}; no folder was made")
        digest = hashlib.sha256(wheel.read_bytes()).hexdigest()
        lines[name] = f"{name}=={version} \\\n    --hash=sha256:{digest}\n"
    return "".join(lines.values())


def licences(wheels: Iterable[Path]) -> str:
    """Return the licences of the wheels: what each says of itself, then the text of every licence file in it."""
    return "\n".join(part for wheel in sorted(wheels) for part in _licence(wheel))


def _licence(wheel: Path) -> Iterator[str]:
    said = metadata(wheel)
    stated = (said["License"] or "").strip()
    named = [line for line in said.get_all("Classifier", []) if line.startswith("License ::")]
    short = said["License-Expression"] or ("" if "\n" in stated else stated) or "; ".join(named)
    yield f"{'=' * 100}\n{said['Name']} {said['Version']}\nLicence: {short or 'not named'}\n"
    with zipfile.ZipFile(wheel) as opened:
        names = [name for name in opened.namelist() if _is_licence(name)]
        for name in names:
            yield f"--- {name}\n\n{opened.read(name).decode('utf-8', 'replace')}"
    if not names:
        yield f"The wheel holds no licence file.\n{stated if chr(10) in stated else ''}"


def _is_licence(name: str) -> bool:
    """Return True for a licence file of the wheel itself, or of something that it carries."""
    folder, _, last = name.lower().rpartition("/")
    named = last.startswith(LICENCE_NAMES) and not last.endswith((".py", ".pyc", ".pyi"))
    return ".dist-info/licenses/" in f"{folder}/" or named


def make(folder: Path, target: Target, extras: Sequence[str]) -> None:
    """Fill a new folder: wheels first, then what is written about them."""
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise SystemExit(f"{folder}: is there already; choose another folder")
    wheels = folder / "wheels"
    wheels.mkdir(parents=True)
    _pip("wheel", "--no-deps", "--wheel-dir", str(wheels), str(ROOT))
    (own,) = wheels.glob("o2sim-*.whl")
    download = ["download", "--only-binary", ":all:", "--dest", str(wheels), *target.pip_options]
    _pip(*download, f"{own}[{','.join(extras)}]" if extras else str(own))
    for _ in range(ROUNDS):
        lacking = missing(list(wheels.glob("*.whl")), target, extras)
        if not lacking:
            break
        _pip(*download, "--no-deps", *lacking)
    else:
        raise SystemExit(f"{folder}: not whole, it lacks {', '.join(lacking)}")
    made = sorted(wheels.glob("*.whl"))
    (folder / "requirements.txt").write_text(requirements(made), encoding="utf-8")
    (folder / "LICENSES.txt").write_text(licences(made), encoding="utf-8")
    (folder / "check.py").write_bytes((TEMPLATES / "check.py").read_bytes())
    for name in (target.installer, "READ-ME.txt"):
        text = (TEMPLATES / name).read_text(encoding="utf-8")
        _write(folder / name, fill(text, target), windows=target.system == "Windows")
    (folder / target.installer).chmod(0o755)


def fill(text: str, target: Target) -> str:
    """Return a template with the target's words in it."""
    made_for = ", ".join(target.platforms) or f"{target.system} {target.machine}"
    words = {"@PYTHON@": target.python, "@INSTALLER@": target.installer, "@PLATFORM@": made_for}
    for mark, word in words.items():
        text = text.replace(mark, word)
    return text


def _write(path: Path, text: str, *, windows: bool) -> None:
    path.write_text(text, encoding="utf-8", newline="\r\n" if windows else "\n")


def _pip(*words: str) -> None:
    done = subprocess.run([sys.executable, "-m", "pip", "--quiet", *words])
    if done.returncode:
        raise SystemExit(f"pip {words[0]} failed; see above")


def arguments(words: Sequence[str] | None = None) -> argparse.Namespace:
    """Return what was asked for."""
    assert __doc__ is not None
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path, help="a folder that is not there yet, or empty")
    parser.add_argument("--platform", action="append", default=[], help="pip's name of it; may be repeated")
    parser.add_argument("--python", default="", help="version on that machine, such as 3.11")
    parser.add_argument("--extra", action="append", default=[], help="of o2sim, such as sensitivity")
    return parser.parse_args(words)


def main() -> None:
    """Make the folder that was asked for; take it away again where that fails."""
    asked = arguments()
    target = target_of(asked.platform, asked.python)
    new = not asked.folder.exists()
    try:
        make(asked.folder, target, asked.extra)
    except BaseException:
        if new:
            shutil.rmtree(asked.folder, ignore_errors=True)
        raise
    size_mb = sum(path.stat().st_size for path in asked.folder.rglob("*")) / 1e6
    print(f"{asked.folder}: {size_mb:.0f} MB; copy it to the laptop and start {target.installer} there")


if __name__ == "__main__":
    main()
