"""Words for what happens to wires, boards, numbers and clocks."""

from collections.abc import Mapping

from parchd.diagnosis.kinds import FindingKind as K
from parchd.diagnosis.sayings import FindingWords, by_itself
from parchd.words import text

_ELECTRICAL = text("By itself with the first good signals. Single readings that cannot be right have failed already.")
_ARRIVES = text("By itself as soon as data arrives. There are no readings in between to be doubted.")

WIRE_WORDS: Mapping[K, FindingWords] = {
    K.STUCK_VALUE: FindingWords(
        "stuck value",
        "start the board of {name} anew",
        "One and the same number is sent again and again, to the last digit. A living signal never does that: the "
        "board repeats its last value, or the transducer hangs.",
        (
            "See whether all channels of the board are stuck: then look there first.",
            "Take supply from the board for half a minute and let it start anew.",
            (
                "Change the vacuum a little (open the cap): the number must move. Close it and fill up if you did, "
                "and write "
                "it down: parchd service -t {name} --work refill."
            ),
            "If it does not move, change the cable, then the transducer.",
        ),
        by_itself(text("when its numbers move again")),
    ),
    K.NOISY_SUPPLY: FindingWords(
        "noisy supply",
        "check the supply of {name}",
        "Several channels of one board jitter together: the noise comes from what they share, supply, ground or a long "
        "cable beside a pump or valve line. Their means can still be right.",
        (
            "Look what started at that time: pump, frequency converter, charger, radio, a weak battery.",
            "Measure the supply at the board while it happens; compare with its data sheet.",
            "Try another supply; lead cables away from pump and valve lines; earth the shield at one end*.",
            "{mains}",
        ),
        "Its readings keep their flags. It ends by itself when the channels are as quiet as before.",
    ),
    K.DROP_OUTS: FindingWords(
        "drop-outs in the wiring",
        "look for a loose contact at {name}",
        "Several channels of one board dip at the same moments and come back: a loose contact or a supply that breaks "
        "down. Averages at the edges of a dip are spoiled too.",
        (
            "Look at what they share: plug, screws, ground and supply of the board.",
            "Move cables and plug one after the other while somebody watches parchd readings.",
            "Tighten, clean or change what makes it dip; protect plugs from water.",
            "{mains}",
        ),
        (
            "Its readings keep their flags; those within a dip are left out. It ends by itself when there were none "
            "for days."
        ),
    ),
    K.OPEN_CIRCUIT: FindingWords(
        "open circuit",
        "mend the cable of {name}",
        "The signal is one that only a broken or missing wire gives. There is no measurement.",
        (
            "Look along the cable for damage: tools, animals, wheels; and at plug and screws.",
            "Measure from one end to the other of each wire, supply switched off; then the supply at the transducer.",
            "Mend the cable with a watertight joint, or change it. Know where water and power run before you dig.",
            "{mains}",
        ),
        _ELECTRICAL,
    ),
    K.SHORT_CIRCUIT: FindingWords(
        "short circuit",
        "check plug and cable of {name}",
        "The signal lies where only wires that touch each other, or water in a plug, can bring it. There is no "
        "measurement.",
        (
            "Look for water in plugs and boxes, squeezed cable, strands that touch.",
            "Take the transducer off: if the fault stays it is in the cable, if it goes it is in the transducer.",
            "Dry and seal the plug, or change cable or transducer.",
            "{mains}",
        ),
        _ELECTRICAL,
    ),
    K.SATURATED: FindingWords(
        "converter at its end",
        "check range and gain of {name}",
        "The signal lies at or beyond the last code of the converter: it may be anything further out. There is no "
        "measurement.",
        (
            "Compare range and gain of the converter with what the transducer can give (parchd check shows both).",
            "Measure the signal with a voltmeter at the input of the board.",
            "Set a wider range, or a smaller gain or shunt; a transducer that gives too much by itself is broken.",
        ),
        _ELECTRICAL,
    ),
    K.SILENT_CHANNEL: FindingWords(
        "silent channel",
        "look at the cable of {name}",
        "Nothing has arrived of it for several of its intervals, while others of the same board go on.",
        (
            "Compare the name of the channel with what the board sends (it is case-sensitive).",
            "Look at cable and plug of this transducer, then at the log of the daemon.",
            "Start the board anew; if only this channel stays silent, change its cable, then the transducer.",
        ),
        _ARRIVES,
    ),
    K.SILENT_SOURCE: FindingWords(
        "silent board or gateway",
        "bring {name} back to life",
        "All channels of one board or gateway are silent together: what they share is down, not each of them.",
        (
            "Look at its battery or supply, panel and fuse, and at the radio or network.",
            "See in the log of the daemon, and at the broker, when and why the line broke off.",
            "Start it anew. What it has stored is taken in when it comes back.",
            "{mains}",
        ),
        _ARRIVES,
    ),
    K.BYTE_ORDER: FindingWords(
        "wrong byte order",
        "correct the byte order of {name}",
        "The numbers look like ones whose bytes were put together in the wrong order: tiny, huge, or jumping while the "
        "soil moves slowly. None of them is a measurement.",
        (
            (
                "Look into the data sheet of the device for the order of bytes and words (big-endian, little-endian, "
                "swapped)."
            ),
            "Set the other order in the gateway or board, and compare one value with the display of the device.",
            "Numbers that were stored wrong stay wrong; a board that keeps its past can send it again.",
        ),
        by_itself(text("when its numbers are sensible again")),
    ),
    K.WRONG_UNIT: FindingWords(
        "wrong unit or scale",
        "correct the unit of {name}",
        "Its numbers are off by a factor that units differ by, such as 10 or 6.9: kPa, hPa, mbar or psi are mixed up, "
        "or V and mV, or the range of the transducer is another one.",
        (
            "Compare unit, sign and range in the configuration with the data sheet and with what the board sends.",
            "Test it: cup in water must read about 0; pump to a vacuum that a gauge shows (parchd prove {name}).",
            "Correct the configuration, parchd check, reload, then parchd reprocess computes the past anew.",
        ),
        by_itself(text("when its numbers fit those from before again")),
    ),
    K.WRONG_CLOCK: FindingWords(
        "wrong clock",
        "set the clock of {name}",
        "The device stamps its samples with a time that is not the time: ahead, behind, or started again from an old "
        "date. Values are right, but their hours are not.",
        (
            "Look at date, time and time zone of the device; it should run on UTC.",
            "Look at its clock's battery and at the network it takes the time from.",
            "Set it, and watch that it stays right over a restart.",
        ),
        "Samples with an impossible time are set aside one by one; the others keep their flags. It ends by itself when "
        "the times are right again.",
    ),
}
