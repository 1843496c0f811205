"""The first and the last words."""

from pathlib import Path

import pytest

from parchd.demo.summary import Result, intro_lines, summary_lines

NOTHING = Result(True, 3.0, 3.0, 39, 0, 0, 0, ())


def test_the_introduction_is_short_and_fits_a_narrow_terminal() -> None:
    for speed in (60.0, 240.0, 7.0):
        lines = intro_lines(speed, "Mosquitto")
        assert len(lines) <= 4
        assert max(map(len, lines)) <= 80
        assert "Ctrl-C" in lines[-1]


@pytest.mark.parametrize(
    ("speed", "words"), [(60.0, "A minute on the farm takes a second."), (240.0, "An hour on the farm takes 15 s.")]
)
def test_the_speed_is_told_in_words(speed: float, words: str) -> None:
    assert words in intro_lines(speed, "amqtt")[-1]


def test_a_demo_that_was_ended_at_once_has_a_summary_too() -> None:
    text = "\n".join(summary_lines(NOTHING, None))
    assert "stopped cleanly" in text
    assert "raised 0 alarms and cleared 0, sent 0 mails and 0 webhooks." in text


def test_a_stop_that_was_not_clean_is_said_loudly() -> None:
    assert "DID NOT STOP CLEANLY" in "\n".join(summary_lines(Result(False, 1.0, 1.0, 0, 1, 0, 1, ()), None))


def test_with_a_folder_the_commands_to_try_name_its_configuration_and_the_day() -> None:
    text = "\n".join(summary_lines(NOTHING, Path("my demo")))
    assert "alarms 'my demo'/demo.toml --since 2026-05-12" in text
    assert "status 'my demo'/demo.toml" in text


def test_without_a_folder_the_next_step_is_to_keep_one() -> None:
    assert "demo --keep my-demo" in "\n".join(summary_lines(NOTHING, None))
