"""Who would be told of what now, as a table."""

from dataclasses import replace
from datetime import UTC, date, datetime, time
from pathlib import Path
from zoneinfo import ZoneInfo

from parchd.cli.who import people_text
from parchd.clock import from_datetime
from parchd.config import Loaded, NotifierPolicy
from parchd.contract import Priority
from parchd.people.person import Away, DigestTime, Escalation, Person, Reach
from parchd.people.quiet import QuietHours
from parchd.people.roles import Role
from parchd.testing.commands import Farm, parchd
from parchd.testing.farm import mail
from parchd.testing.notifier import FakeNotifier
from parchd.testing.receivers import MailSandbox
from parchd.testing.wiring import loaded_site
from parchd.words import Voice

BERLIN = Voice(time_zone="Europe/Berlin")
NIGHT = QuietHours(time(21), time(6), ZoneInfo("Europe/Berlin"))
MARA = Person(
    "mara", "Mara Ilves", (Reach("mail", "mara@quillmere.example"),), BERLIN, frozenset({Role.IRRIGATION}),
    frozenset({"north"}), quiet=NIGHT, digest=DigestTime(time(6, 30)), deputy="jonas",
    away=(Away(date(2026, 8, 3), date(2026, 8, 14)),),
)  # fmt: skip
JONAS = Person(
    "jonas", "Jonas Berg", (Reach("mail", "jonas@quillmere.example"), Reach("hook", "", Priority.HIGH)), BERLIN,
    digest=DigestTime(time(7), weekday=4),
)  # fmt: skip


def site(folder: Path, *people: Person, escalation: Escalation | None = None) -> Loaded:
    policy = NotifierPolicy(lowest_priority=Priority.MEDIUM, digest=False)
    made = loaded_site(folder, notifiers={"mail": FakeNotifier(), "hook": FakeNotifier()}, policy=policy)
    return replace(made, people=people, escalation=escalation)


def shown(loaded: Loaded, *when: int) -> list[str]:
    recipients = {"mail": ("office@quillmere.example",), "hook": ("controller",)}
    return people_text(loaded, recipients, from_datetime(datetime(*when, tzinfo=UTC))).splitlines()  # type: ignore[arg-type,misc]


def test_each_person_has_a_line_with_what_would_happen_now(tmp_path: Path) -> None:
    lines = shown(site(tmp_path, MARA, JONAS, escalation=Escalation(("mara", "jonas"))), 2026, 7, 1, 10)
    assert lines[:5] == [
        "People, 2026-07-01 12:00",
        "  name                      roles       high     medium  low     digest",
        "  Mara Ilves                irrigation  at once  soon    digest  06:30",
        "  Jonas Berg                all         at once  soon    digest  Fri 07:00",
        "  office@quillmere.example  all         each     each    -       never",
    ]
    assert [line.strip() for line in lines[-5:]] == [
        "Mara Ilves: zones north; mail to mara@quillmere.example",
        "away 2026-08-03 to 2026-08-14; Jonas Berg stands in",
        "Jonas Berg: mail to jonas@quillmere.example; hook to controller from high",
        "priority up",
        "not acknowledged within 60 min (high priority): Mara Ilves, then Jonas Berg",
    ]
    assert all(len(line) <= 80 for line in lines)


def test_quiet_hours_show_when_they_end_and_who_is_away_who_stands_in(tmp_path: Path) -> None:
    row = shown(site(tmp_path, MARA, JONAS), 2026, 7, 1, 22)[2]
    assert row.split()[3:] == ["at", "once", "06:00", "digest", "06:30"]
    row = shown(site(tmp_path, MARA, JONAS), 2026, 8, 3, 10)[2]
    assert (
        row.split("  ")[-4:] == ["Jonas Berg", "Jonas Berg", "digest", "    06:30"] or "Jonas Berg  Jonas Berg" in row
    )
    row = shown(site(tmp_path, replace(MARA, deputy=None)), 2026, 8, 3, 10)[2]
    assert row.split()[3:5] == ["away", "away"]


def test_somebody_without_roles_is_told_of_what_is_escalated_only(tmp_path: Path) -> None:
    row = shown(site(tmp_path, replace(JONAS, roles=frozenset())), 2026, 7, 1, 10)[2]
    assert row.split() == ["Jonas", "Berg", "-", "-", "-", "-", "Fri", "07:00"]


def test_nobody_is_nothing_to_show(tmp_path: Path) -> None:
    assert people_text(loaded_site(tmp_path), {}, 0) == ""


def test_check_shows_people_and_tell_reaches_them(quillmere: Farm) -> None:
    with MailSandbox() as mails:
        to = 'reach = [{ notifier = "people", to = "mara@quillmere.example" }]\n'
        quillmere.write(mail(mails), f"[people.mara]\nname = 'Mara Ilves'\n{to}")
        checked = parchd("check", quillmere.config)
        assert "Mara Ilves: people to mara@quillmere.example" in checked.out
        assert "anne@quillmere.example" in checked.out
        said = parchd("tell", quillmere.config)
        assert said.out.splitlines() == [
            "people: anne@quillmere.example: delivered", "people: mara@quillmere.example: delivered",
        ]  # fmt: skip
        assert len(mails.mails) == 2
