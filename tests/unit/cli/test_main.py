"""The command itself: help, versions, exit codes, what goes wrong."""

import subprocess
import sys
from pathlib import Path

import pytest

from parchd import __version__
from parchd.cli.exits import Exit
from parchd.cli.main import COMMANDS
from parchd.testing.commands import Farm, parchd
from parchd.testing.site import batch, sample

FIRST_US = 1_780_000_000_000_000


def test_help_names_every_command_and_every_exit_code() -> None:
    said = parchd("--help")
    assert said.code == 0
    words = " ".join(said.out.split())
    for command, does in COMMANDS.items():
        assert f"{command} {does}" in words
    for code in Exit:
        assert f"{code.value} {code.meaning}" in words


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_explains_itself(command: str) -> None:
    said = parchd(command, "--help")
    assert said.code == 0
    assert COMMANDS[command][1:] in " ".join(said.out.split())


def test_the_version_is_told() -> None:
    assert parchd("--version").out == f"parchd {__version__}\n"


@pytest.mark.parametrize("words", [(), ("water",), ("run", "--fast"), ("readings", "a.toml", "b.toml")])
def test_wrong_arguments_are_answered_with_the_usage(words: tuple[str, ...]) -> None:
    said = parchd(*words)
    assert said.code == Exit.USAGE
    assert "usage: parchd" in said.err
    assert not said.out


@pytest.mark.parametrize("command", ["run", "check", "status", "readings", "alarms", "tell"])
def test_a_configuration_that_is_not_there_is_a_broken_one(tmp_path: Path, command: str) -> None:
    said = parchd(command, tmp_path / "none.toml")
    assert said.code == Exit.CONFIG
    assert "none.toml" in said.err
    assert "Traceback" not in said.err


@pytest.mark.parametrize("command", ["status", "readings", "alarms"])
def test_without_a_journal_a_command_says_what_may_be_the_reason(quillmere: Farm, command: str) -> None:
    said = parchd(command, quillmere.config)
    assert said.code == Exit.STORE
    assert (
        said.err
        == f"parchd: {quillmere.journal}: there is no journal yet; has the daemon run with this configuration?\n"
    )
    assert not said.out
    assert not quillmere.journal.exists(), "a command that reads makes no journal"


@pytest.mark.parametrize("command", ["status", "readings", "alarms"])
def test_a_journal_that_is_damaged_is_reported_in_one_line(quillmere: Farm, command: str) -> None:
    with quillmere.engine() as bench:
        for n in range(200):
            bench.feed(batch(*(sample(f"c{c}", FIRST_US + n * 1_000_000, 20.0) for c in range(50))))
        bench.engine.checkpoint()
    content = bytearray(quillmere.journal.read_bytes())
    content[8192:] = b"\xa5" * (len(content) - 8192)
    quillmere.journal.write_bytes(content)
    said = parchd(command, quillmere.config, *([] if command == "status" else ["--since", "2026-01-01"]))
    assert said.code == Exit.STORE
    assert said.err.startswith("parchd: ")
    assert len(said.err.splitlines()) == 1


@pytest.mark.parametrize("lines", [0, 1, 10])
def test_a_reader_that_goes_away_is_nothing_to_complain_about(quillmere: Farm, lines: int) -> None:
    with quillmere.engine() as bench:
        for n in range(20):
            bench.feed(batch(*(sample(f"c{c}", FIRST_US + n * 1_000_000, 20.0) for c in range(500))))
    command = [sys.executable, "-m", "parchd", "readings", str(quillmere.config), "--since", "2026-01-01"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        for _ in range(lines):
            assert process.stdout.readline()
        process.stdout.close()
        assert process.stderr.read() == b""
        assert process.wait(20) == Exit.OK


def test_a_reader_that_goes_away_before_a_short_text_is_written_is_no_trouble_either(quillmere: Farm) -> None:
    with quillmere.engine():
        pass
    shell = f"{sys.executable} -m parchd alarms {quillmere.config} | true; echo ${{PIPESTATUS[0]}}"
    done = subprocess.run(["bash", "-c", shell], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "0"
    assert done.stderr == ""


def test_nothing_heavy_is_imported_for_help(tmp_path: Path) -> None:
    """`--help` must answer at once on a small board."""
    code = (
        "import sys; sys.argv = ['parchd', '--help']\nfrom parchd.cli.main import main\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        "print([name for name in ('paho', 'serial', 'apscheduler', 'urllib3') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_the_daemon_imports_no_client_that_its_configuration_does_not_use(quillmere: Farm) -> None:
    """The client of the time-series server alone costs 14 MB and as long as all the rest."""
    code = (
        "import sys\nfrom pathlib import Path\nimport parchd.cli.run\nfrom parchd.config import load\n"
        f"load(Path({str(quillmere.config)!r}), {{}}, None)\n"
        "print([name for name in ('serial', 'influxdb_client', 'numpy', 'smtplib') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_ctrl_c_ends_a_command_without_a_trace(quillmere: Farm, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("parchd.cli.check.load_config", interrupted)
    said = parchd("check", quillmere.config)
    assert (said.code, said.out, said.err) == (Exit.FAILED, "", "")


def test_exit_codes_have_words_and_stay_as_they_are() -> None:
    assert {code.name: code.value for code in Exit} == {
        "OK": 0, "FAILED": 1, "USAGE": 2, "INTERNAL": 70, "STORE": 74, "CONFIG": 78,
    }  # fmt: skip
    assert all(code.meaning for code in Exit)
