"""The HTML of a message: inline styles only, nothing loaded from anywhere, readable on a phone and in dark mode."""

import re
from collections.abc import Iterable, Sequence

from parchd.contract import AnswerLink, Chart, Notice, NoticeKind
from parchd_adapters.email.markup_tables import FAINT, facts_table, heading, one_table, text_of
from parchd_adapters.email.words import Badge, answers, badge, origin, steps_heading, title

_WITHIN_NAME = re.compile(r"(?<=\w)-(?=\w)")
_FONT = "font-family:system-ui,-apple-system,'Segoe UI',Roboto,'Noto Sans',Arial,sans-serif"
_BUTTON = (
    "display:block;margin:0 0 10px;padding:14px 16px;border-radius:6px;text-align:center;text-decoration:none;"
    "font-size:17px;font-weight:600;background-color:#24505c;color:#ffffff;border:1px solid #24505c"
)
_PICTURE = "display:block;width:100%;max-width:480px;height:auto;border:0;border-radius:6px;background-color:#fbf8f1"


def html_text(notice: Notice, pictures: Sequence[str] = ()) -> str:
    """Write the whole page; lines end with ``\\n``.

    Args:
        pictures: a content id for each chart that is drawn, without brackets; charts beyond them are told in words.
    """
    look = badge(notice.kind, notice.priority, notice.voice)
    say = notice.voice.say
    parts = [
        _badge(look),
        f'<h1 style="font-size:22px;line-height:1.25;margin:14px 0 16px">{_unbroken(title(notice))}</h1>',
        _lines(notice.lines, look) if notice.lines else f'<p style="margin:0 0 18px">{text_of(notice.summary)}</p>',
        _answers(answers(notice)),
        *([] if notice.kind is NoticeKind.DIGEST else _figures(notice, pictures)),
        _steps(notice.advice, steps_heading(notice)),
        facts_table(notice.facts, say("Details") if notice.lines else ""),
        *map(one_table, notice.tables),
        *(_figures(notice, pictures) if notice.kind is NoticeKind.DIGEST else []),
        f'<p style="margin:26px 0 0;font-size:13px;{FAINT}">{"<br>".join(map(text_of, origin(notice)))}</p>',
    ]
    return _page(title(notice), notice.voice.language, (part for part in parts if part))


def _page(name: str, language: str, parts: Iterable[str]) -> str:
    return "\n".join(
        [
            "<!DOCTYPE html>",
            f'<html lang="{text_of(language)}" style="color-scheme:light dark">',
            "<head>",
            '<meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            '<meta name="color-scheme" content="light dark">',
            '<meta name="supported-color-schemes" content="light dark">',
            f"<title>{text_of(name)}</title>",
            "</head>",
            f'<body style="margin:0;padding:18px 16px 28px;{_FONT};font-size:16px;line-height:1.45">',
            '<div style="max-width:640px;margin:0 auto;overflow-wrap:anywhere">',
            *parts,
            "</div>",
            "</body>",
            "</html>",
            "",
        ]
    )


def _badge(look: Badge) -> str:
    style = (
        f"display:inline-block;padding:5px 14px 5px 11px;border-radius:4px;background-color:{look.ground};"
        f"color:{look.ink};font-size:14px;font-weight:600"
    )
    return f'<div><span style="{style}">{look.shape}&nbsp; {text_of(look.word)}</span></div>'


def _unbroken(text: str) -> str:
    """A heading whose names, such as north-20, are not broken at their hyphens."""
    return text_of(_WITHIN_NAME.sub("\N{NON-BREAKING HYPHEN}", text))


def _lines(lines: Sequence[tuple[str, str]], look: Badge) -> str:
    """Label above text, so that a phone has room; the last one, what to do, stands out."""
    *others, last = lines
    return "\n".join(
        [
            '<dl style="margin:0">',
            *(_line(label, said, "margin:0 0 12px") for label, said in others),
            _line(*last, f"margin:0 0 20px;padding:2px 0 2px 12px;border-left:5px solid {look.ground};font-weight:600"),
            "</dl>",
        ]
    )


def _line(label: str, said: str, style: str) -> str:
    return (
        f'<div style="{style}"><dt style="font-size:13px;font-weight:400;{FAINT}">{text_of(label)}</dt>'
        f'<dd style="margin:0">{text_of(said)}</dd></div>'
    )


def _answers(links: Sequence[AnswerLink]) -> str:
    """Buttons as wide as the page and as high as a thumb."""
    buttons = [f'<a href="{text_of(link.url)}" style="{_BUTTON}">{text_of(link.label)}</a>' for link in links]
    return "\n".join(['<div style="max-width:480px;margin:0 0 8px">', *buttons, "</div>"]) if buttons else ""


def _figures(notice: Notice, pictures: Sequence[str]) -> Iterable[str]:
    for number, chart in enumerate(notice.charts):
        yield _figure(chart, pictures[number] if number < len(pictures) else "")


def _figure(chart: Chart, content_id: str) -> str:
    caption = f'<figcaption style="margin:0 0 6px;font-size:15px;font-weight:600">{text_of(chart.title)}</figcaption>'
    shown = f'<p style="margin:0;font-size:15px">{text_of(chart.alt)}</p>'
    if content_id:
        shown = f'<img src="cid:{text_of(content_id)}" alt="{text_of(chart.alt)}" width="480" style="{_PICTURE}">'
    return f'<figure style="margin:18px 0 0">{caption}\n{shown}</figure>'


def _steps(sentences: Sequence[str], name: str) -> str:
    if not sentences:
        return ""
    kind = "ol" if len(sentences) > 1 else "ul"
    items = "\n".join(f'<li style="margin:0 0 6px">{text_of(sentence)}</li>' for sentence in sentences)
    return f'{heading(name)}\n<{kind} style="margin:0;padding-left:24px">\n{items}\n</{kind}>'
