"""A pattern, what stands in its place in every source of numba, and a program in: the program run with that numba.

This is what another version of numba may look like from outside: a name that is another one wherever numba itself
uses it too, so that numba works as before.
"""

from __future__ import annotations

import re
import runpy
import sys
from importlib.abc import MetaPathFinder
from importlib.machinery import ModuleSpec, PathFinder, SourceFileLoader
from types import CodeType, ModuleType


class Renaming(SourceFileLoader):
    """Loads a source with the pattern replaced, and one without it as always."""

    pattern, other = "", ""

    def get_code(self, fullname: str) -> CodeType | None:
        """Return the code of a module; what was kept of the true source does not count."""
        path = self.get_filename(fullname)
        source = self.get_data(path).decode()
        changed = re.sub(self.pattern, self.other, source)
        return super().get_code(fullname) if changed == source else self.source_to_code(changed.encode(), path)


class Finder(MetaPathFinder):
    """Finds the sources of numba for that loader."""

    def find_spec(self, name: str, path: object = None, target: ModuleType | None = None) -> ModuleSpec | None:
        """Return where a module of numba is, None for any other."""
        spec = PathFinder.find_spec(name, path, target) if name.split(".")[0] == "numba" else None
        if spec is not None and isinstance(spec.loader, SourceFileLoader):
            spec.loader = Renaming(name, spec.loader.path)
        return spec


if __name__ == "__main__":
    Renaming.pattern, Renaming.other = sys.argv[1:3]
    sys.meta_path.insert(0, Finder())
    sys.argv = sys.argv[3:]
    runpy.run_path(sys.argv[0], run_name="__main__")
