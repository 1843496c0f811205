"""Mails in a real browser, as wide as a phone and as a desk: nothing is cut, all can be read, buttons can be hit."""

import base64
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from parchd.contract import Notice, NoticeKind, Priority
from parchd.testing.frames import measured
from parchd.testing.mails import sample_mails
from parchd_adapters.email.drawing import LETTER_PX
from parchd_adapters.email.message import compose
from parchd_adapters.email.pictures import Pictures

pytestmark = pytest.mark.needs("chromium")

MEASURE = """
const measure = (frame) => {
  const inside = frame.contentDocument, width = frame.clientWidth;
  const seen = [...inside.querySelectorAll("body *")].filter((e) => e.getClientRects().length > 0);
  const wide = seen.filter((e) => e.getBoundingClientRect().right > width + 1).map((e) => e.outerHTML.slice(0, 120));
  const texts = seen.filter((e) => [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim()));
  const size = (e) => parseFloat(frame.contentWindow.getComputedStyle(e).fontSize);
  const images = [...inside.querySelectorAll("img")];
  const buttons = [...inside.querySelectorAll("a")].map((e) => e.getBoundingClientRect());
  return {
    wide, page: inside.documentElement.scrollWidth, least: Math.min(...texts.map(size)),
    body: size(inside.querySelector("dd") || inside.querySelector("p")),
    drawn: images.filter((e) => e.naturalWidth > 0).length, images: images.map((e) => e.getBoundingClientRect().width),
    letters: images.map((e) => LETTER * e.getBoundingClientRect().width / e.naturalWidth),
    low: buttons.filter((r) => r.height < 44).length, buttons: buttons.length };
};
"""
WIDTHS = (360, 800)
MAILS = {
    **sample_mails(),
    **{f"german {name}": mail for name, mail in sample_mails("de").items() if name in ("digest", "finding")},
}
PICTURES = Pictures()


def page_of(notice: Notice) -> str:
    """The page as a mail program shows it, with its pictures in their places."""
    message = compose(notice, "anne@quillmere.example", "alarms@quillmere.example", notice.time_us, PICTURES.of(notice))
    body = message.get_body(("html",))
    assert body is not None
    page = str(body.get_content())
    for part in message.walk():
        if part.get_content_type() == "image/png":
            content = part.get_payload(decode=True)
            assert isinstance(content, bytes)
            name = str(part["Content-ID"]).strip("<>")
            page = page.replace(f"cid:{name}", f"data:image/png;base64,{base64.b64encode(content).decode()}")
    assert "cid:" not in page
    return page


def shown(folder: Path, page: str) -> list[dict[str, Any]]:
    return measured(folder, page, WIDTHS, MEASURE.replace("LETTER", str(LETTER_PX)), scrollbars=False)


@pytest.mark.parametrize("name", MAILS)
def test_a_mail_fits_a_phone_and_a_desk_and_can_be_read(tmp_path: Path, name: str) -> None:
    notice = MAILS[name]
    phone, desk = shown(tmp_path, page_of(notice))
    for width, one in zip(WIDTHS, (phone, desk), strict=True):
        assert one["page"] <= width
        assert one["wide"] == []
        assert one["least"] >= 13
        assert one["body"] >= 16
        assert one["drawn"] == len(notice.charts)
        assert (one["buttons"], one["low"]) == (len(notice.answers), 0)
        assert all(drawn >= 300 for drawn in one["images"])
    assert all(size >= 12 for size in phone["letters"]), "letters within the picture, as they are shown"


def test_a_mail_with_the_longest_names_fits_a_phone(tmp_path: Path) -> None:
    long = "a-very-long-name-that-nobody-would-give-" * 4
    notice = replace(
        next(iter(MAILS.values())), subject=f"{long}: {long}", site=long, facts=((long, long),),
        lines=((long, long),) * 2, priority=Priority.HIGH, kind=NoticeKind.ESCALATED,
    )  # fmt: skip
    assert [one["page"] for one in shown(tmp_path, page_of(notice))] == list(WIDTHS)
