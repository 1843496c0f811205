"""Print the Debian packages of the programs that tests start and this machine lacks; nothing if all are there.

Which programs: the ``needs`` marks in the tests. Which packages: the table in ``conftest.py``.
"""

import argparse
import re
import runpy
import shutil
from pathlib import Path

TESTS = Path(__file__).parent
MARK = re.compile(r"""mark\.needs\("([^"]+)"\)""")


def needed() -> set[str]:
    return {name for file in TESTS.rglob("*.py") for name in MARK.findall(file.read_text(encoding="utf-8"))}


def is_installed(program: str) -> bool:
    return any(shutil.which(program, path=path) for path in (None, "/usr/sbin:/sbin"))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--without", action="append", default=[], help="a program whose tests are left out")
    left_out = set(parser.parse_args().without)
    install = runpy.run_path(str(TESTS / "conftest.py"))["INSTALL"]
    missing = sorted(program for program in needed() - left_out if not is_installed(program))
    print(*(install[program].removeprefix("apt-get install ") for program in missing))


if __name__ == "__main__":
    main()
