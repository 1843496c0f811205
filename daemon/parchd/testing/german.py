"""Finds English that is left in a message which should be German."""

import re

from parchd.contract import Notice

_ENGLISH = re.compile(
    r"\b(the|of|and|with|when|which|its|this|from|raised|cleared|since|than|has|have|been|not|are|their|by|or|for"
    r"|nothing|readings|tension|soil|water|look|check|days?|hours?|over)\b",
    re.IGNORECASE,
)
_NAMES = re.compile(
    r"parchd [a-z]+(?: -t)?(?: [a-z0-9-]+)*(?: --\w+(?: [\w-]+)*)*|north block|creek terrace|Quillmere Orchard|post 1"
    r"|store\.\w+|\w+\.\w+\.\w[\w.]*|https?://\S+|water stands below the roots|Close valve 3 and look at the ditch"
    r"|the board was off|connection refused|wrong token|no such user"
)
"""Commands, keys, and what people of the tests have written themselves."""


def said_in(notice: Notice) -> str:
    """All that a person reads of a message."""
    tables = [cell for table in notice.tables for row in (table.columns, *table.rows) for cell in (table.title, *row)]
    charts = [
        text
        for chart in notice.charts
        for text in (
            chart.title,
            chart.alt,
            *(line.label for line in chart.lines),
            *(limit.label for limit in chart.limits),
            *(mark.label for mark in chart.marks),
        )
    ]
    pairs = [text for pair in (*notice.facts, *notice.lines) for text in pair]
    return "\n".join([notice.subject, notice.summary, *notice.advice, *pairs, *tables, *charts])


def english_in(notice: Notice) -> str:
    """English words that are no names; empty: there are none."""
    ours = _NAMES.sub("", said_in(notice))
    found = _ENGLISH.search(ours) or re.search(r"[{}]", ours)
    return ours[max(0, found.start() - 60) : found.end() + 60] if found else ""
