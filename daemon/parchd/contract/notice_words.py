"""Kinds and priorities of messages in a word or two."""

from collections.abc import Mapping
from types import MappingProxyType

from parchd.contract.notices import NoticeKind, Priority
from parchd.words import Text, text

KIND_WORDS: Mapping[NoticeKind, Text] = MappingProxyType(
    {
        NoticeKind.RAISED: text("raised"),
        NoticeKind.CLEARED: text("over"),
        NoticeKind.REPEATED: text("still so"),
        NoticeKind.ESCALATED: text("nobody answered"),
        NoticeKind.REMINDER: text("waits for an answer"),
        NoticeKind.GROUP: text("several alarms"),
        NoticeKind.FLOOD: text("flood of alarms"),
        NoticeKind.DIGEST: text("digest"),
        NoticeKind.OVERFLOW: text("several messages"),
        NoticeKind.STEP: text("step"),
        NoticeKind.TEST: text("test message"),
    }
)
PRIORITY_WORDS: Mapping[Priority, Text] = MappingProxyType(
    {Priority.LOW: text("low"), Priority.MEDIUM: text("medium"), Priority.HIGH: text("high")}
)
