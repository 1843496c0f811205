"""Flags and the gross range test against ioos_qc, the reference code of IOOS QARTOD."""

import warnings

import numpy as np
import pytest

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # its dependencies announce their own deprecations at import
    from ioos_qc.qartod import QartodFlags, gross_range_test, qartod_compare

from parchd.contract import Flag, worst
from parchd.physics.causes import flag_of
from parchd.quality.gross import gross_range

# IOOS QARTOD reference suite, gross range: fail outside 10..50, suspect outside 20..40; bounds pass.
VALUES = (5, 10, 15, 20, 25, 30, 35, 40, 45, 51)


def test_flags_have_the_numbers_of_the_reference_code() -> None:
    theirs = {
        Flag.PASS: QartodFlags.GOOD,
        Flag.NOT_EVALUATED: QartodFlags.UNKNOWN,
        Flag.SUSPECT: QartodFlags.SUSPECT,
        Flag.FAIL: QartodFlags.FAIL,
        Flag.MISSING: QartodFlags.MISSING,
    }
    assert {flag: int(number) for flag, number in theirs.items()} == {flag: flag.value for flag in Flag}


@pytest.mark.parametrize("first", Flag)
@pytest.mark.parametrize("second", Flag)
def test_two_flags_combine_as_in_the_reference_code(first: Flag, second: Flag) -> None:
    theirs = qartod_compare([np.array([int(first)]), np.array([int(second)])])
    assert int(worst([first, second])) == int(theirs[0])


def test_the_upper_side_of_the_gross_range_flags_as_the_reference_code_does() -> None:
    """Ours has no suspect level below: a tension near saturation is never suspect for being low."""
    theirs = gross_range_test(inp=np.array(VALUES, dtype=float), fail_span=(10, 50), suspect_span=(10, 40))
    ours = [flag_of(gross_range(value, 10, 50, 40)) for value in VALUES]
    assert [int(flag) for flag in ours] == [int(flag) for flag in theirs]
