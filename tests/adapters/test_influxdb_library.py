"""What the library may not bring into the daemon."""

import subprocess
import sys

PROGRAM = """
import sys
from parchd_adapters.influxdb.library import slim_import
with slim_import():
    from influxdb_client.client.influxdb_client import InfluxDBClient
    from influxdb_client.client.write_api import SYNCHRONOUS
assert "numpy" not in sys.modules, "it came along"
import numpy
assert numpy.array([1]).sum() == 1
"""


def test_the_library_comes_without_numpy_and_numpy_can_be_had_afterwards() -> None:
    assert subprocess.run([sys.executable, "-c", PROGRAM], check=False).returncode == 0
