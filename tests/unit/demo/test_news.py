"""News come from many threads and are read by one."""

import threading

from parchd.demo.news import Kind, News, NewsDesk
from parchd.testing import FakeClock


def desk() -> NewsDesk:
    return NewsDesk(FakeClock(), lambda _: "05:00")


def test_news_carry_the_time_of_the_farm_and_an_introduction_does_not() -> None:
    news = desk()
    news.tell(Kind.INTRO, "hello")
    news.tell(Kind.FIELD, "rain", "a little")
    assert news.after(0) == [News("", Kind.INTRO, "hello"), News("05:00", Kind.FIELD, "rain", "a little")]


def test_what_was_printed_is_not_given_again() -> None:
    news = desk()
    for number in range(5):
        news.tell(Kind.FIELD, str(number))
    assert [one.text for one in news.after(3)] == ["3", "4"]
    assert [one.text for one in news.last(2)] == ["3", "4"]


def test_nothing_is_lost_when_threads_speak_at_once() -> None:
    news = desk()

    def speak(kind: Kind) -> None:
        for _ in range(200):
            news.tell(kind, "x")

    threads = [threading.Thread(target=speak, args=(kind,)) for kind in (Kind.MAIL, Kind.WEBHOOK)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert news.counts == {Kind.MAIL: 200, Kind.WEBHOOK: 200}
