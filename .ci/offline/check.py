"""Check an installation of o2sim by using it: prints OK, or what failed. Run by the Python it is installed in."""

import os
import subprocess
import sys
import tempfile
from pathlib import Path

DEMO = str(Path("demo") / "district_hospital.yaml")
TRIED = (
    ("--version",),
    ("demo", "demo"),
    ("check", DEMO),
    ("compare", DEMO, "--replications", "2"),  # compiles the engine, once
)


def main() -> int:
    """Run each command in a folder of its own; return 0 if all went well."""
    program = Path(sys.executable).with_name("o2sim.exe" if os.name == "nt" else "o2sim")
    with tempfile.TemporaryDirectory(prefix="o2sim-check-") as folder:
        for words in TRIED:
            shown = " ".join(("o2sim", *words))
            print(f"{shown} ...", flush=True)
            try:
                done = subprocess.run([program, *words], cwd=folder, capture_output=True)
            except OSError as error:
                print(f"FAILED: {shown}: {program} cannot be started ({error.strerror or error})")
                return 1
            if done.returncode:
                said = (done.stdout + done.stderr).decode("utf-8", "replace")
                print(f"{said}\nFAILED: {shown} ended with exit code {done.returncode}; what it said is above")
                return 1
    print("OK: o2sim is installed and works")
    return 0


if __name__ == "__main__":
    sys.exit(main())
