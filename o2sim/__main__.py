"""Run the command line as `o2sim` or `python -m o2sim`; Ctrl-C is heard from the first moment to the last."""

import signal
import sys

STOPPED = 130


def main() -> None:
    """Load the commands and run the one that is asked for."""
    try:
        from o2sim.cli import main as commands

        commands(prog_name="o2sim")
    except KeyboardInterrupt:  # before there was a command, or after it
        if sys.stderr is not None:
            print("\nStopped.", file=sys.stderr)
        sys.exit(STOPPED)
    finally:
        if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
            signal.signal(signal.SIGINT, signal.SIG_DFL)  # all is said: who waits no longer leaves at once


if __name__ == "__main__":
    main()
