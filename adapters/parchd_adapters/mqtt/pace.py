"""When to hurry, and when the past has been delivered. No input and output here."""

URGENT_AT = 10
"""Half of the in-flight window that brokers use if nothing else is set."""
_STALL_S = 0.2
_PROMPT_S = 0.1
_STALLS = 10


class Pace:
    """Decides when to hand over, and whether the broker waits for acknowledgements.

    Few messages on their way need no haste. The broker keeps them until they are acknowledged, so they may gather into
    one commit, which spares the daemon's memory card. A first one after a pause goes at once.

    A broker whose window is full sends nothing more until something is acknowledged, so when many are on their way,
    their commit is urgent. A window smaller than usual shows by its stalls: silence, then a message at once after the
    acknowledgements; after ten of them in a row (sensors that happen to speak just then make a few) the size is known.
    A larger one shows by what was on its way at once: half of that is many.

    Args:
        gather_s: shortest time between commits that are not urgent.
    """

    def __init__(self, gather_s: float) -> None:
        self._gather_s = gather_s
        self._handed_s = float("-inf")
        self._urgent_at = URGENT_AT
        self._most = 0
        self._received_s = float("-inf")
        self._stalled_s = float("-inf")
        self._window = 0
        self._stalls = 0

    def is_urgent(self, unacknowledged: int) -> bool:
        self._most = max(self._most, unacknowledged)
        return unacknowledged >= max(self._urgent_at, self._most // 2)

    def is_time(self, now_s: float) -> bool:
        """Tell whether what has gathered may be handed over."""
        return now_s - self._handed_s >= self._gather_s

    def handed_over(self, now_s: float) -> None:
        """Note that something was handed over."""
        self._handed_s = now_s

    def received(self, now_s: float) -> None:
        """Note that messages came."""
        if self._window:
            self._stalls = self._stalls + 1 if now_s - self._stalled_s <= _PROMPT_S else 0
            if self._stalls >= _STALLS:
                self._urgent_at = min(self._urgent_at, self._window)
            self._window = 0
        self._received_s = now_s

    def acknowledged(self, now_s: float, unacknowledged: int) -> None:
        """Note that acknowledgements went out; before that, so many messages were unacknowledged."""
        if now_s - self._received_s >= _STALL_S:
            self._stalled_s, self._window = now_s, unacknowledged
        else:
            self._window = self._stalls = 0


class Backlog:
    """Tells when a resumed session has delivered what it kept for us.

    What a broker kept may be days old, and a payload without a time does not tell. So until the backlog is over,
    such samples are marked "time unknown". To find its end, a probe (a packet the broker answers) is sent behind
    acknowledgements: as long as more is kept, the broker fills its in-flight window before it answers. How large
    that is nobody tells us; at least as many as were seen on their way at once, which counts up to `URGENT_AT`.
    """

    def __init__(self) -> None:
        self.is_over = False
        self._window = 1
        self._asked: int | None = None
        self._since = 0

    def received(self, count: int, unacknowledged: int) -> None:
        """Note that so many messages came, and how many are unacknowledged with them."""
        self._since += count
        self._window = max(self._window, min(unacknowledged, URGENT_AT))

    @property
    def wants_probe(self) -> bool:
        return not self.is_over and self._asked is None

    def probed(self, unacknowledged: int) -> None:
        """Note that a probe was sent while so many messages were unacknowledged."""
        self._asked, self._since = unacknowledged, 0

    def answered(self) -> None:
        """Note that the probe came back."""
        if self._asked is not None and self._asked + self._since < self._window:
            self.is_over = True
        self._asked = None
