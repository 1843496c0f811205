"""What keeps the daemon small."""

import subprocess
import sys

ALLOCATE = """
import pathlib, sys, threading
from parchd.cli.footprint import share_memory

def reserved_kb():
    status = pathlib.Path("/proc/self/status").read_text()
    return int(status.partition("VmSize:")[2].split()[0])

if sys.argv[1] == "share":
    assert share_memory()
everybody, done = threading.Barrier(5), threading.Barrier(5)

def allocate():
    everybody.wait()
    kept = [bytearray(2000) for _ in range(100)]
    done.wait()
    return kept

threading.stack_size(256 * 1024)
threads = [threading.Thread(target=allocate) for _ in range(4)]
before = reserved_kb()
for thread in threads:
    thread.start()
everybody.wait()
done.wait()
print(reserved_kb() - before)
for thread in threads:
    thread.join()
"""


def grown_kb(how: str) -> int:
    said = subprocess.run([sys.executable, "-c", ALLOCATE, how], check=True, capture_output=True, text=True, timeout=60)
    return int(said.stdout)


def test_threads_take_their_memory_from_one_place() -> None:
    """The C library reserves 64 MB of addresses for each thread that allocates by itself."""
    assert grown_kb("apart") > 60_000
    assert grown_kb("share") < 10_000
