"""What pages behind links say."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from parchd.alarms.lifecycle import State
from parchd.alarms.links import LinkAct, LinkVerdict
from parchd.contract import Verdict
from parchd.words import Text, noted, text


@dataclass(frozen=True, slots=True)
class ActWords:
    """What is said before and after an act.

    Args:
        title: the question.
        meaning: what happens when the button is pressed.
        button: its label.
        done, after: title and text once it was done.
    """

    title: Text
    meaning: Text
    button: Text
    done: Text
    after: Text


@dataclass(frozen=True, slots=True)
class EndWords:
    """Title and text of a page that leaves nothing to press."""

    title: Text
    text: Text


ACTS: Mapping[LinkAct, ActWords] = MappingProxyType(
    {
        LinkAct.ACKNOWLEDGE: ActWords(
            text("Acknowledge this alarm?"),
            text(
                "You say that you know and see to it. Nobody else is called about it. It stays on until its cause is"
                " gone. No valve is moved by this: whatever is to be watered, somebody must water."
            ),
            text("Acknowledge"),
            text("Acknowledged"),
            text("Thank you, {name}. The alarm stays on until its cause is gone. You can close this page."),
        ),
        LinkAct.SHELVE: ActWords(
            text("Keep this alarm quiet?"),
            text(
                "Until the time is over nobody hears of it, whatever happens there. Then it speaks again if its cause"
                " is still there. No valve is moved by this."
            ),
            text("Keep it quiet"),
            text("Quiet for now"),
            text("Thank you, {name}. Nobody hears of it until {until}. You can close this page."),
        ),
        LinkAct.SERVICE: ActWords(
            text("Is the work on {tensiometer} done?"),
            text(
                "It is written down as a service by you. Readings are marked until the instrument has settled, and what"
                " was found before is taken as mended. The alarm ends when all is well; if not, it comes again."
            ),
            text("Write it down"),
            text("Written down"),
            text("Thank you, {name}. Readings of {tensiometer} count again after {until}. You can close this page."),
        ),
    }
)

ENDS: Mapping[Verdict | LinkVerdict, EndWords] = MappingProxyType(
    {
        LinkVerdict.USED: EndWords(
            text("This link has been used"), text("It works once, and did so on {time}. Nothing was changed now.")
        ),
        LinkVerdict.ENDED: EndWords(
            text("This alarm has ended already"),
            text("Nothing is left to do. Should it come again, you get a new message with new links."),
        ),
        LinkVerdict.NEEDLESS: EndWords(
            text("This alarm is answered already"), text("Somebody was faster. Nothing is left to do for you.")
        ),
        LinkVerdict.EXPIRED: EndWords(
            text("This link is too old"),
            text("It worked until {time}. The alarm can still be answered with the commands of parchd."),
        ),
        LinkVerdict.FORGED: EndWords(
            text("This link is not whole"),
            text("Perhaps a mail program cut it in two: copy all of it. Or links were made anew since it was sent."),
        ),
        Verdict.REFUSED: EndWords(text("Nothing was changed"), text("The alarm does not stand as it did any more.")),
        Verdict.BUSY: EndWords(
            text("This takes a little longer"),
            text("Open the link again in a minute: the page then says whether it was done."),
        ),
    }
)
TOO_MANY = EndWords(
    text("Please wait a minute"), text("Too many links that are not right came from your network just now.")
)
NOTHING_HERE = EndWords(text("There is nothing here"), text("Links of messages lead to their own pages."))
UNREADABLE = EndWords(text("This cannot be read now"), text("Open the link again in a minute."))

STATES: Mapping[State, Text] = MappingProxyType(
    {
        State.NORMAL: text("over"),
        State.UNACKNOWLEDGED: text("nobody has acknowledged it yet"),
        State.ACKNOWLEDGED: text("acknowledged by {by}, {time}"),
        State.RETURNED: text("its cause is gone, nobody acknowledged it"),
        State.LATCHED: text("its cause seems to be gone; it waits for a service or a reset"),
        State.SHELVED: text("kept quiet by {by} until {until}"),
        State.SUPPRESSED: text("silent, because another alarm says it all"),
        State.OUT_OF_SERVICE: text("taken out of service by {by}, {time}"),
    }
)
SINCE = text("Since {time}.")
NOW = text("Now: {state}.")
SOMEBODY = text("somebody")
WORKS_ONCE = text("This link is for {name}. It works once, until {time}.")
HOW_LONG = text("For how long")
WHY = text("Why")
OTHER_REASON = text("Another reason, in a few words")
WHAT_WORK = text("What was done")
WHEN = text("When")

HOURS = (4, 12, 24, 72)
"""How long an alarm may be kept quiet with a link; the third is chosen beforehand."""
REASONS = (
    noted("known, will be seen to later"),
    noted("somebody is working there"),
    noted("cannot be mended now"),
)
WORKS: Mapping[str, Text] = MappingProxyType(
    {
        "refill": text("filled up with water"),
        "re-prime": text("freed of air and filled anew"),
        "re-zero": text("its zero set anew"),
        "install": text("put in anew"),
        "frost-removal": text("taken in because of frost, or put back"),
        "other": text("something else"),
    }
)
AGO: Mapping[str, Text] = MappingProxyType(
    {
        "0": text("just now"),
        "1": text("1 hour ago"),
        "3": text("3 hours ago"),
        "6": text("6 hours ago"),
        "12": text("12 hours ago"),
        "24": text("a day ago"),
    }
)
