"""What loading costs: it happens at every start and every reload, on small boards."""

import subprocess
import sys
import time

from parchd.testing.config_folder import BASE, ConfigFolder

HEADER = "name,zone,station,depth_cm,height_cm,channel,transducer\n"


def test_a_hundred_tensiometers_load_within_0_3_s(config: ConfigFolder) -> None:
    rows = "".join(f"t{n},north,s{n // 2},{30 + n % 2 * 30},{95},bus1/b{n},vac\n" for n in range(100))
    config.write("t.csv", HEADER + rows)
    text = 'tensiometers_table = "t.csv"\n' + BASE
    took_s = []
    for _ in range(3):
        start = time.perf_counter()
        assert len(config.load(text).pipeline.tensiometers) == 101
        took_s.append(time.perf_counter() - start)
    assert min(took_s) < 0.3


def test_importing_and_loading_leave_heavy_libraries_alone(config: ConfigFolder) -> None:
    config.load()
    program = (
        "import sys; from pathlib import Path; from parchd.config import load; "
        f"load(Path({str(config.folder / 'farm.toml')!r}), {{}}, None); "
        "heavy = {'numpy', 'influxdb_client', 'paho', 'yaml', 'boto3', 'email_validator', 'apscheduler'}; "
        "print(sorted(heavy & set(sys.modules)))"
    )
    found = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "[]"
