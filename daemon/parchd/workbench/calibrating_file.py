"""The file of a calibration, as the configuration reads it."""

from collections.abc import Iterator, Sequence
from datetime import date, datetime

from parchd.workbench.calibrating import Session
from parchd.workbench.calibrating_reference import Reference
from parchd.workbench.records import toml_value

LINE_CHARACTERS = 120
"""What a line of text in the configuration may hold."""


def full_text(session: Session, reference: Reference, valid_from: date | datetime, by: str) -> str:
    """Write a calibration in its own right."""
    return "\n".join([*_head(session, valid_from), *_full(session), *_tail(session, reference, by)]) + "\n"


def check_text(session: Session, check: str, reference: Reference | None, valid_from: datetime, by: str) -> str:
    """Write a check of the zero (one point) or of the span (two).

    Args:
        reference: ``None``: the air, or the column of water in the instrument.
    """
    lines = [*_head(session, valid_from), f'check = "{check}"', *_points(session), *_tail(session, reference, by)]
    return "\n".join(lines) + "\n"


def valid_from(now: datetime, taken: Sequence[datetime]) -> date | datetime:
    """Give the date from which a calibration holds: today, or this moment if another holds today already.

    Args:
        now: local time.
        taken: local times from which others hold.

    >>> valid_from(datetime(2026, 5, 14, 15, 2, 33), [datetime(2026, 3, 1)])
    datetime.date(2026, 5, 14)
    >>> valid_from(datetime(2026, 5, 14, 15, 2, 33), [datetime(2026, 5, 14)])
    datetime.datetime(2026, 5, 14, 15, 2, 33)
    """
    moment = now.replace(microsecond=0, tzinfo=None)
    return moment if any(other.date() >= moment.date() for other in taken) else moment.date()


def _head(session: Session, begins: date | datetime) -> Iterator[str]:
    yield "# Written by parchd calibrate. Readings from valid_from on are corrected by it."
    yield f"tensiometer = {toml_value(session.setup.place.tensiometer)}"
    yield f"valid_from = {toml_value(begins)}"


def _full(session: Session) -> Iterator[str]:
    if session.degree != 1:
        yield f"degree = {session.degree}"
    yield from _points(session)
    yield f"runs = {toml_value(session.runs)}"
    if session.left_out:
        yield f"left_out = {toml_value(tuple(index + 1 for index in sorted(session.left_out)))}"


def _points(session: Session) -> Iterator[str]:
    yield f"points = [   # signal in {session.setup.transducer.unit.value}, vacuum in kPa"
    for index, (signal, vacuum_kpa) in enumerate(session.file_points):
        remarks = [] if session.taken[index].reading.steady else ["not steady"]
        remarks += ["left out"] if index in session.left_out else []
        remark = f"   # {', '.join(remarks)}" if remarks else ""
        yield f"    [{signal:.7g}, {round(vacuum_kpa, 4)}],{remark}"
    yield "]"


def _tail(session: Session, reference: Reference | None, by: str) -> Iterator[str]:
    if session.setup.transducer.needs_supply:
        yield f"supply_v = {session.supply_v:.6g}"
    if session.setup.transducer.reference.needs_air:
        yield f"air_kpa = {session.air_kpa:.6g}"
    if reference is not None:
        yield f"reference_u_kpa = {reference.u_kpa:.3g}"
        yield f"note = {toml_value(reference.words())}"
    if by:
        yield f"by = {toml_value(by[:LINE_CHARACTERS])}"
