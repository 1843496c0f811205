"""What the report says around its numbers."""


def _paragraphs(text: str) -> tuple[str, ...]:
    return tuple(" ".join(part.split()) for part in text.strip().split("\n\n"))


LIMITS = _paragraphs(
    """
    All seasons are simulated by parchd's own simulator. The result says how the diagnosis does on faults as we model
    them; it says nothing of faults that nobody thought of.

    The simulator and the detectors come from the same project. Detectors were tuned on other seeds than these, but on
    the same kinds of soil, weather, farmers and faults.

    Soil water moves up and down only; weather, roots and farmers are simple models. Real ground has stones, cracks,
    slopes and emitters.

    Every season with faults has several of them. On a real farm they are rarer, so that of a hundred findings there
    more would be false than the precision here says. The number of false findings per sensor-year holds for both.

    Nobody answers findings here: no service is written down, and faults go on until the season ends or the simulated
    farmer happens to top the tube up.
    """
)

RULES = _paragraphs(
    """
    A fault is found when a finding of its kind is made on the right tensiometer or source while it lasts, or within
    seven days after it was mended. A finding that another one takes the place of is judged by the last,
    unless it was made while nothing was wrong: then it is false. It is made when the readings that it rests on arrive,
    whatever the clock of the device says.

    Every other finding is false, whether nothing was wrong or something else was.

    Some faults are set aside by the truth alone, by comparing the season with the same season without its faults. A
    fault that can be found must change the tension by more than its expanded uncertainty (1 kPa at least), or take it
    away, for 24 h in all; 12 h are enough for collapses (lost water, air entry), 1 h for wires, words, delivery and
    ice. A level shift, a drift, a leak, a crack, poor contact or a slow response must also change it by 2 kPa for 48 h
    in all.

    Time within another fault that hides it does not count: while the source or the channel is silent, the wire open,
    short or at the end of the converter, the value stuck, or the tensiometer without water, full of air or frozen.
    Set aside are also faults that begin to show within the last day, and slow ones that show for less than a week. What
    is rightly said of faults set aside counts for nothing; how many there were and why stands below.

    Gateways and channels of healthy farms fall silent for hours too. A finding that says so while nothing arrived is
    neither right nor false; it is counted apart.
    """
)

(KINDS_NOTE,) = _paragraphs(
    """
    Delay: from the beginning of a fault until it was rightly named. Since it shows: from the first reading that the
    fault changes by more than its uncertainty. Dated: how much later (or, negative, earlier) than the truth the finding
    lets it begin. Set aside: faults that the truth says nobody could find.
    """
)

(CONFUSION_NOTE,) = _paragraphs(
    """
    Each row is what was true, each column what was said. The darker a cell, the greater its share of its row; framed
    cells are right. The numbers count faults, and for false findings beside them the findings.
    """
)

(PICTURES_NOTE,) = _paragraphs(
    """
    For each kind the fault that took an ordinary time to find; where none was found, the first that was missed. Marks
    along the upper edge: where the fault begins, where it is mended, where something was found. Below: what is true and
    what was said.
    """
)
