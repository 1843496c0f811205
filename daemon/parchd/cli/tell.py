"""``parchd tell``"""

from argparse import Namespace

from parchd.app.setup import names
from parchd.cli.choosing import chosen
from parchd.cli.exits import Exit
from parchd.cli.loading import load_config
from parchd.clock import SystemClock
from parchd.config import Loaded
from parchd.config.loaded import NotifierEntry
from parchd.contract import Notice, NoticeKind, ParchdError, Services


def command(arguments: Namespace) -> Exit:
    """Send a test message to every recipient and person at once, whatever their hours; say what came of it."""
    loaded = load_config(arguments.config)
    results = [_tell(loaded, loaded.notifiers[name]) for name in chosen(arguments.notifier, loaded.notifiers)]
    return Exit.OK if all(results) else Exit.FAILED


def _tell(loaded: Loaded, entry: NotifierEntry) -> bool:
    clock = SystemClock()
    notifier = entry.factory.build(entry.options, Services(entry.name, loaded.pipeline.site.name, clock))
    well = True
    theirs = [way.to for person in loaded.people for way in person.reach if way.notifier == entry.name and way.to]
    for recipient in dict.fromkeys((*notifier.recipients, *theirs)):
        try:
            notifier.send(test_notice(loaded, clock.now_us()), recipient)
        except ParchdError as error:
            well = False
            print(f"{entry.name}: {recipient}: not delivered: {error}")
        else:
            print(f"{entry.name}: {recipient}: delivered")
    return well


def test_notice(loaded: Loaded, now_us: int) -> Notice:
    """The test message."""
    called = names(loaded)
    return Notice(
        id=f"test.{now_us}",
        kind=NoticeKind.TEST,
        time_us=now_us,
        site=called.site,
        subject=f"{called.site}: a test message",
        summary="If you read this, messages of parchd reach you. Nothing needs to be done.",
        facts=(("Site", called.site), ("Sent", called.local(now_us))),
        data={"type": "test"},
    )
