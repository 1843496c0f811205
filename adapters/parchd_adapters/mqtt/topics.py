"""Topic filters of MQTT (3.1.1 and 5, section 4.7)."""

Captures = tuple[str, ...]
"""What the wildcards of a filter stood for, in order; the one of ``#`` is the last."""

_LONGEST_BYTES = 65535


def check_filter(topic_filter: str) -> str:
    """Return a topic filter that brokers accept.

    >>> check_filter("farm/+/volts")
    'farm/+/volts'

    Raises:
        ValueError: what is wrong with it.
    """
    if not topic_filter or "\0" in topic_filter or len(topic_filter.encode()) > _LONGEST_BYTES:
        raise ValueError("a topic filter of 1 to 65535 bytes, none of them NUL")
    if topic_filter.startswith("$share/"):
        raise ValueError("the filter itself; a shared subscription would give away a part of the messages")
    *levels, last = topic_filter.split("/")
    if any("#" in level for level in levels) or ("#" in last and last != "#"):
        raise ValueError("'#' alone, as the last level: 'farm/#'")
    if any("+" in level and level != "+" for level in (*levels, last)):
        raise ValueError("'+' for a whole level: 'farm/+/volts'")
    return topic_filter


def check_topic(topic: str) -> str:
    """Return a topic that one can publish to.

    >>> check_topic("parchd/quillmere/commands")
    'parchd/quillmere/commands'

    Raises:
        ValueError: what is wrong with it.
    """
    if not topic or any(character in topic for character in "\0+#") or len(topic.encode()) > _LONGEST_BYTES:
        raise ValueError("a topic of 1 to 65535 bytes without + and #, such as parchd/quillmere/commands")
    if topic.startswith("$"):
        raise ValueError("a topic that does not begin with $, which belongs to the broker")
    return topic


def wildcards(topic_filter: str) -> tuple[int, bool]:
    """Count the ``+`` of a filter, and tell whether it ends in ``#``.

    >>> wildcards("farm/+/+/#")
    (2, True)
    """
    levels = topic_filter.split("/")
    return levels.count("+"), levels[-1] == "#"


def match(topic_filter: str, topic: str) -> Captures | None:
    """Match a topic with a filter; ``None``: it does not match.

    >>> match("farm/+/volts", "farm/north/volts")
    ('north',)
    >>> match("farm/#", "farm/north/volts")
    ('north/volts',)
    >>> match("farm/#", "farm")
    ('',)
    >>> match("#", "$SYS/uptime") is None  # section 4.7.2
    True
    """
    if topic.startswith("$") != topic_filter.startswith("$"):
        return None
    levels, wanted = topic.split("/"), topic_filter.split("/")
    rest: Captures = ()
    if wanted[-1] == "#":
        wanted.pop()
        levels, rest = levels[: len(wanted)], ("/".join(levels[len(wanted) :]),)
    if len(levels) != len(wanted) or any(w not in ("+", level) for w, level in zip(wanted, levels, strict=True)):
        return None
    return (*(level for w, level in zip(wanted, levels, strict=True) if w == "+"), *rest)
