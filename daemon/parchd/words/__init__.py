"""Speaking to people in their language, units and style of dates.

The texts in the code are English and the source; each other language is a ``.po`` file in this folder, brought up to
date by ``make words``.
"""

from parchd.words.catalogues import languages
from parchd.words.texts import Text, Value, noted, text
from parchd.words.voice import UNITS, DateStyle, Voice

__all__ = ["UNITS", "DateStyle", "Text", "Value", "Voice", "languages", "noted", "text"]
