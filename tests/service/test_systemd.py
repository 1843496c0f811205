"""The files for systemd, read by systemd's own tools."""

import os
import re
import stat
import subprocess
from pathlib import Path

import pytest

from parchd.cli.arguments import DEFAULT_CONFIG
from parchd.cli.exits import Exit

SYSTEMD = Path(__file__).parents[2] / "systemd"
UNIT = (SYSTEMD / "parchd.service").read_text()


def run(*command: str | Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(command, capture_output=True, text=True, check=False, timeout=60)


def values(key: str) -> list[str]:
    return re.findall(rf"^{key}=(.*)$", UNIT, re.MULTILINE)


@pytest.mark.needs("systemd-analyze")
def test_systemd_finds_no_fault_in_the_unit(tmp_path: Path) -> None:
    program = tmp_path / "parchd"
    program.write_text("#!/bin/sh\n")
    program.chmod(0o755)
    unit = tmp_path / "parchd.service"
    unit.write_text(UNIT.replace("/opt/parchd/bin/parchd", str(program)))
    done = run("systemd-analyze", "verify", "--man=no", unit)
    assert (done.returncode, done.stdout + done.stderr) == (0, "")


@pytest.mark.needs("systemd-analyze")
@pytest.mark.parametrize(
    ("line", "fault", "complaint"),
    [
        ("WatchdogSec=60", "WatchdogSec=a minute", "a minute"),
        ("ProtectHome=yes", "ProtectHouse=yes", "ProtectHouse"),
    ],
)
def test_systemd_would_notice_a_fault(tmp_path: Path, line: str, fault: str, complaint: str) -> None:
    unit = tmp_path / "parchd.service"
    unit.write_text(UNIT.replace("/opt/parchd/bin/parchd", "/bin/true").replace(line, fault))
    done = run("systemd-analyze", "verify", "--man=no", unit)
    assert complaint in done.stderr


@pytest.mark.needs("systemd-analyze")
def test_the_units_exposure_is_two_of_ten_or_lower() -> None:
    unit = SYSTEMD / "parchd.service"
    done = run("systemd-analyze", "security", "--offline=true", "--threshold=20", "--no-pager", unit)
    assert done.returncode == 0, done.stdout


@pytest.mark.needs("systemd-analyze")
def test_the_user_and_the_closed_folders_can_be_made(tmp_path: Path) -> None:
    (tmp_path / "etc").mkdir()
    made = run("systemd-sysusers", f"--root={tmp_path}", SYSTEMD / "parchd.sysusers")
    assert made.returncode == 0, made.stderr
    users = (tmp_path / "etc/passwd").read_text()
    assert re.search(r"^parchd:.*:/var/lib/parchd:/usr/sbin/nologin$", users, re.MULTILINE)

    folders = tmp_path / "folders.conf"
    folders.write_text(owned_by_us((SYSTEMD / "parchd.tmpfiles").read_text()))
    made = run("systemd-tmpfiles", "--create", f"--root={tmp_path}", folders)
    assert made.returncode == 0, made.stderr
    for folder in ("etc/parchd", "etc/parchd/secrets"):
        assert stat.S_IMODE((tmp_path / folder).stat().st_mode) == 0o750


def owned_by_us(table: str) -> str:
    """Only root may give a folder away."""
    return table if os.getuid() == 0 else table.replace("root parchd", f"{os.getuid()} {os.getgid()}")


def test_the_unit_runs_as_the_user_that_sysusers_makes() -> None:
    users = [line.split()[1] for line in (SYSTEMD / "parchd.sysusers").read_text().splitlines() if line.startswith("u")]
    assert values("User") == users == values("Group")


def test_a_broken_configuration_is_not_tried_again_and_again() -> None:
    assert values("RestartPreventExitStatus") == [str(int(Exit.CONFIG))]


def test_the_unit_reads_the_configuration_that_commands_read_by_default() -> None:
    assert values("ExecStart") == [f"/opt/parchd/bin/parchd run {DEFAULT_CONFIG}"]


def test_the_state_directory_is_the_users_home() -> None:
    assert values("StateDirectory") == ["parchd"]
    assert "/var/lib/parchd" in (SYSTEMD / "parchd.sysusers").read_text()


def test_drivers_whose_devices_are_allowed_are_loaded_before_the_unit_starts() -> None:
    """systemd.resource-control(5), DeviceAllow=: groups that are unknown at start are not added."""
    drivers = {"char-ttyUSB rw": "modprobe@usbserial.service", "char-ttyACM rw": "modprobe@cdc_acm.service"}
    for device, driver in drivers.items():
        assert device in values("DeviceAllow")
        assert any(driver in line for line in values("After"))
        assert any(driver in line for line in values("Wants"))


def test_no_secret_is_loaded_until_someone_asks_for_it() -> None:
    """A LoadCredential= whose file is missing keeps the service from starting."""
    assert values("LoadCredential") == []
    assert len(values("#LoadCredential")) >= 1


ASSIGNMENT = re.compile(r"""[A-Z]+(\{[A-Za-z_]+\})?(==|!=|=|\+=|-=|:=)"[^"]*\"""")


def rules() -> list[str]:
    lines = (SYSTEMD / "70-parchd-serial.rules").read_text().splitlines()
    return [line for line in lines if line and not line.startswith("#")]


def test_every_device_rule_has_the_form_of_udev_7() -> None:
    for rule in rules():
        for part in rule.split(","):
            assert ASSIGNMENT.fullmatch(part.strip()), part


def test_device_rules_name_no_real_adapter() -> None:
    assert len(rules()) == 3
    for rule in rules():
        assert 'ATTRS{idVendor}=="0000"' in rule
        assert 'ATTRS{idProduct}=="0000"' in rule


def test_every_file_is_explained_in_the_readme() -> None:
    page = (SYSTEMD / "README.md").read_text()
    for file in SYSTEMD.iterdir():
        assert file.name == "README.md" or f"`{file.name}`" in page
